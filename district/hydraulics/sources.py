"""Heads that sources hold, told or taken from what is known near them."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pandas as pd
from scipy.sparse import coo_array
from scipy.sparse.csgraph import connected_components

from district.errors import StageError
from district.hydraulics.model import Flags, Kind, Reals, Wholes
from district.hydraulics.parting import ACTING, Parted, standing_node
from district.hydraulics.places import along
from district.network import Network
from district.settings import Settings
from district.words import listed


@dataclass(frozen=True, eq=False)
class Held:
    """`head_m` (N) held at each node, NaN at junctions; the usual one; what was assumed."""

    head_m: Reals
    usual_m: float
    said: tuple[str, ...]


def held_heads(
    network: Network,
    parts: Parted,
    level_m: Reals,
    *,
    settings: Settings,
    pressures: pd.DataFrame | None = None,
) -> Held:
    """The heads that sources hold at the nodes nearest to them.

    `level_m` (N) of the ground, NaN where nothing tells it. A source without a head takes that of
    the nearest pressure logger of its part of the network (`pressures`, table HOURLY_PRESSURES),
    but of none that only a reducing valve's water reaches;
    else, where it is alone there, the ground's plus the assumed pressure: changes of pressure come
    out right, pressure itself does not. A part without source hangs on a tank whose gauge's level
    is told. Raises `StageError` where several sources feed a part and the head of one is not known,
    or where no source or tank lies on a pipe.
    """
    head = np.full(len(level_m), np.nan)
    said: list[str] = []
    reduces = network.valves.sort_index()["kind"].map(ACTING) == Kind.REDUCING
    part = _parts(parts, len(level_m))
    open_part = _parts(parts, len(level_m), shut=reduces.to_numpy()[parts.valve])
    sources = network.sources.sort_index()
    pipe, share = along(sources, network.pipes)
    node = standing_node(parts.start, parts.end, pipe=pipe, share=share)
    off = [str(s) for s in sources.index[node < 0]]
    if off:
        said.append(f"Source {listed(off)} lies on no pipe and feeds nothing.")
    told = sources["head_m"].to_numpy(dtype=float)
    on = np.flatnonzero(node >= 0)
    for s in on[np.isfinite(told[on])]:
        head[node[s]] = np.fmax(head[node[s]], told[s])
    for s in on[np.isnan(told[on])]:
        name = str(sources.index[s])
        near = _logged_head_m(network, parts, open_part, int(node[s]), sources.iloc[s], pressures)
        if near is not None:
            head[node[s]], logger = near
            said.append(f"The head of source {name} is not told: taken from logger {logger}.")
            continue
        same = part == part[node[s]]
        if (part[node[on]] == part[node[s]]).sum() > 1:
            raise StageError(
                f"The pipes cannot be modelled: source {name} feeds them together with others and "
                "its head is not told. Fill in head_m of the layer sources."
            )
        ground = float(np.nanmean(level_m[same])) if np.isfinite(level_m[same]).any() else 0.0
        head[node[s]] = ground + settings.pressure.assumed_m
        said.append(
            f"The head of source {name} is not told: taken as {head[node[s]]:.0f} m, so the model "
            "tells changes of pressure but not pressure itself."
        )
    said += _hang_on_tanks(network, parts, part, head)
    if not np.isfinite(head).any():
        raise StageError(
            "The pipes cannot be modelled: no source lies on a pipe in use. Draw the layer "
            "sources where water enters."
        )
    return Held(head, float(np.nanmedian(head)), tuple(said))


def _parts(parts: Parted, count: int, *, shut: Flags | None = None) -> Wholes:
    """The part of the network of each node, shut valves parting it, and those of `parts` that are
    `shut`."""
    passed = np.ones(len(parts.valve), dtype=bool) if shut is None else ~shut
    first = np.concatenate([parts.start, parts.valve_start[passed]])
    last = np.concatenate([parts.end, parts.valve_end[passed]])
    table = coo_array((np.ones(len(first)), (first, last)), shape=(count, count))
    return np.asarray(connected_components(table, directed=False)[1], dtype=np.int64)


def _logged_head_m(
    network: Network,
    parts: Parted,
    part: Wholes,
    node: int,
    source: pd.Series,
    pressures: pd.DataFrame | None,
) -> tuple[float, str] | None:
    """Mean head at the pressure logger nearest to a source in its part, and the logger."""
    if pressures is None or pressures.empty:
        return None
    mean = pressures.groupby("device_id")["pressure_m"].mean()
    loggers = network.sensors[
        (network.sensors["kind"] == "pressure")
        & network.sensors["elevation_m"].notna()
        & network.sensors.index.isin(mean.index)
    ].sort_index()
    pipe, share = along(loggers, network.pipes)
    at = standing_node(parts.start, parts.end, pipe=pipe, share=share)
    near = (at >= 0) & (part[at] == part[node])
    if not near.any():
        return None
    loggers = loggers[near]
    name = str(loggers.index[int(np.argmin(loggers.distance(source["geometry"])))])
    return float(loggers.at[name, "elevation_m"] + mean[name]), name


def _hang_on_tanks(network: Network, parts: Parted, part: Wholes, head: Reals) -> list[str]:
    """Hold the head of tanks that alone feed their part, in place; what is said of them."""
    tanks = network.sensors[
        (network.sensors["kind"] == "tank_level") & network.sensors["elevation_m"].notna()
    ].sort_index()
    pipe, share = along(tanks, network.pipes)
    node = standing_node(parts.start, parts.end, pipe=pipe, share=share)
    said = []
    for t in np.flatnonzero(node >= 0):
        if np.isfinite(head[part == part[node[t]]]).any():
            continue
        head[node[t]] = tanks["elevation_m"].iloc[t]
        said.append(
            f"Tank {tanks.index[t]} feeds a part of the network alone: its water is taken at the "
            "level of its gauge."
        )
    return said
