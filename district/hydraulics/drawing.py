"""The network as a hydraulic model: nodes, links, and where connections and loggers stand."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np
import pandas as pd
from scipy.sparse import csr_array

from district.hydraulics.coefficients import roughness_groups, usual_roughness
from district.hydraulics.expected import expected_use_l_s
from district.hydraulics.levels import interpolated_level_m
from district.hydraulics.model import Kind, Model, Reals
from district.hydraulics.parting import ACTING, Parted, parted, standing_node
from district.hydraulics.places import along
from district.hydraulics.sources import held_heads
from district.hydraulics.steady import solve
from district.hydraulics.water import Drawn
from district.network import Network
from district.settings import Settings
from district.words import listed, plural

LEAST_LENGTH_M = 0.01
USUAL_DIAMETER_MM = 100.0
VALVE_K = 2.5
"""Minor-loss coefficient of a check or reducing valve that stands open (common practice, no
source: 2 to 3 for a swing check valve)."""
_OPEN_LENGTH_M = 1.0
_UNKNOWN_SPREAD_M = 20.0


def draw_model(
    network: Network, *, settings: Settings, pressures: pd.DataFrame | None = None
) -> Drawn:
    """The network as a `Model`, and what stands where in it.

    The first nodes are those of `network.nodes`, the first links its pipes. A node is parted in
    two (the second named 'N00012/2') where a shut, check or reducing valve stands; zone meters do
    not part the water. Pipes whose part of the network holds no source are in the model too; the
    solver says that nothing reaches them.

    `pressures`, table HOURLY_PRESSURES, anchors a source whose head is not told. Raises
    `StageError` where a part of the network has several sources and the head of one is not known,
    or where there is no source at all.
    """
    pipes = network.pipes
    parts, said = _parted(network)
    model, assumed, spread_m = _model(network, parts, settings, pressures)
    node_cell = _node_cells(network, parts)
    tap = _on_nodes(network.connections, pipes, parts, len(model.node_id), node_cell=node_cell)
    model = _turned(model, len(pipes), tap, network, settings)
    if len(parts.valve):
        names = [str(x) for x in model.link_id[len(pipes) :]]
        assumed.append(
            f"Which way {listed(names)} lets water through is not recorded: taken as it would run "
            "with the valve open."
        )
    loggers = network.sensors[
        (network.sensors["kind"] == "pressure") & (network.sensors["pipe_id"] != "")
    ].sort_index()
    groups = np.append(roughness_groups(pipes), np.full(len(parts.valve), "", dtype=object))
    return Drawn(
        model=model,
        pipe_link=np.arange(len(pipes), dtype=np.int64),
        node_cell=node_cell,
        tap=tap,
        logger_id=np.array([str(s) for s in loggers.index], dtype=object),
        watch=_on_nodes(loggers, pipes, parts, len(model.node_id)),
        logger_level_m=loggers["elevation_m"].to_numpy(dtype=float),
        assumed=(*said, *assumed),
        group=groups,
        level_spread_m=spread_m,
    )


def _parted(network: Network) -> tuple[Parted, tuple[str, ...]]:
    start = network.pipes["start_position"].to_numpy(dtype=np.int64)
    end = network.pipes["end_position"].to_numpy(dtype=np.int64)
    valves = network.valves.sort_index()
    pipe, share = along(valves, network.pipes)
    node = standing_node(start, end, pipe=pipe, share=share)
    shut = (valves["state"] == "shut").to_numpy()
    shut_node = np.zeros(len(network.nodes), dtype=bool)
    shut_node[node[shut & (node >= 0)]] = True
    found = parted(
        start,
        end,
        nodes_count=len(network.nodes),
        shut_node=shut_node,
        valves=valves,
        valve_node=np.where(shut, -1, node),
    )
    return found, found.said


def _model(
    network: Network, parts: Parted, settings: Settings, pressures: pd.DataFrame | None
) -> tuple[Model, list[str], float]:
    """The model with its valves as drawn, what was assumed, and the spread of its levels."""
    pipes, assumed = network.pipes, []
    xy = _xy(network.nodes)
    xy = np.vstack([xy, xy[parts.parent]])
    level, spread_m = interpolated_level_m(xy, **_known_levels(network))
    held = held_heads(network, parts, level, settings=settings, pressures=pressures)
    assumed += held.said
    if np.isnan(level).any():
        level = np.full(len(xy), held.usual_m - settings.pressure.assumed_m)
        spread_m = _UNKNOWN_SPREAD_M
        assumed.append(
            f"No level of the ground is told: pressures rest on {settings.pressure.assumed_m:g} m "
            "everywhere."
        )
    else:
        spread_m = _UNKNOWN_SPREAD_M if np.isnan(spread_m) else spread_m
        assumed.append(
            "Levels of the mains are taken from connections and gauges near them, within "
            f"{spread_m:.1f} m in 95 of 100 places."
        )
    told = pipes["roughness"].to_numpy(dtype=float)
    if np.isnan(told).any():
        assumed.append(
            f"Roughness of {plural(int(np.isnan(told).sum()), 'pipe')} is taken from material "
            "and age."
        )
    bore = pipes["diameter_mm"].to_numpy(dtype=float)
    if np.isnan(bore).any():
        lacking = plural(int(np.isnan(bore).sum()), "pipe")
        assumed.append(f"Diameter of {lacking} is taken as {USUAL_DIAMETER_MM:g} mm.")
    bore = np.where(np.isnan(bore), USUAL_DIAMETER_MM, bore)
    roughness = np.where(np.isnan(told), usual_roughness(pipes), told)
    valves = network.valves.sort_index().iloc[parts.valve]
    unset = valves["valve_id"][valves["kind"].eq("pressure_reducing") & valves["setting_m"].isna()]
    if len(unset):
        assumed.append(f"Reducing valve {listed(unset)} has no setting: taken as fully open.")
    drawn_kind = valves["kind"].map(ACTING).to_numpy(dtype=np.int64)
    kinds = np.where(valves["valve_id"].isin(set(unset)), Kind.PIPE, drawn_kind)
    count = len(parts.valve)
    beside = np.concatenate([parts.start, parts.end])
    widest = np.zeros(len(xy))
    np.maximum.at(widest, beside, np.concatenate([bore, bore]))
    names = [str(n) for n in network.nodes.index]
    copies = pd.Series(parts.parent).groupby(parts.parent).cumcount().to_numpy() + 2
    added = [f"{names[p]}/{c}" for p, c in zip(parts.parent, copies, strict=True)]
    length = np.maximum(pipes["length_m"].to_numpy(dtype=float), LEAST_LENGTH_M)
    model = Model(
        node_id=np.array([*names, *added], dtype=object),
        elevation_m=level,
        fixed_head_m=held.head_m,
        link_id=np.array([*map(str, pipes.index), *map(str, valves["valve_id"])], dtype=object),
        start=np.concatenate([parts.start, parts.valve_start]),
        end=np.concatenate([parts.end, parts.valve_end]),
        kind=np.concatenate([np.full(len(pipes), int(Kind.PIPE)), kinds]).astype(np.int64),
        length_m=np.concatenate([length, np.where(kinds == Kind.PIPE, _OPEN_LENGTH_M, 0.0)]),
        diameter_mm=np.concatenate([bore, widest[parts.valve_start]]),
        roughness=np.concatenate([roughness, np.full(count, 130.0)]),
        minor_k=np.concatenate([np.zeros(len(pipes)), np.full(count, VALVE_K)]),
        is_open=np.ones(len(pipes) + count, dtype=bool),
        setting_m=np.concatenate(
            [
                np.full(len(pipes), np.nan),
                np.where(kinds == Kind.REDUCING, valves["setting_m"].to_numpy(float), np.nan),
            ]
        ),
        pump=np.full((len(pipes) + count, 3), np.nan),
    )
    return model, assumed, spread_m


def _turned(
    model: Model, pipes_count: int, tap: csr_array, network: Network, settings: Settings
) -> Model:
    """The model with its valves the way water would run were they open, at mean demand."""
    if pipes_count == len(model.link_id):
        return model
    use = expected_use_l_s(network.connections, settings=settings)
    acting = model.kind != Kind.PIPE
    as_pipes = replace(
        model,
        kind=np.full(len(model.kind), int(Kind.PIPE)),
        length_m=np.where(acting, _OPEN_LENGTH_M, model.length_m),
        setting_m=np.full(len(model.kind), np.nan),
    )
    flow = solve(as_pipes, np.asarray(use @ tap)).flow_l_s
    back = acting & (flow < 0)
    return replace(
        model,
        start=np.where(back, model.end, model.start),
        end=np.where(back, model.start, model.end),
    )


def _on_nodes(
    things: Any, pipes: Any, parts: Parted, nodes_count: int, *, node_cell: Any = None
) -> csr_array:
    """Weights of the nodes at both ends of each thing's pipe, by its place between them.

    With `node_cell`, an end in another cell than the thing's own (a node on a zone meter) has none
    if the other end is in its cell.
    """
    pipe, share = along(things, pipes)
    row = np.flatnonzero(pipe >= 0)
    first, last = parts.start[pipe[row]], parts.end[pipe[row]]
    at = share[row]
    if node_cell is not None:
        own = things["cell_id"].to_numpy(dtype=object)[row]
        abroad, too = node_cell[first] != own, node_cell[last] != own
        at = np.where(abroad & ~too, 1.0, np.where(too & ~abroad, 0.0, at))
    weights = np.concatenate([1.0 - at, at])
    places = (np.concatenate([row, row]), np.concatenate([first, last]))
    table = csr_array((weights, places), shape=(len(things), nodes_count))
    table.eliminate_zeros()
    return table


def _node_cells(network: Network, parts: Parted) -> Any:
    pipes, count = network.pipes, len(network.nodes) + len(parts.parent)
    cell = np.full(count, "", dtype=object)
    by_pipe = pipes["cell_id"].to_numpy(dtype=object)
    cell[parts.end] = by_pipe
    cell[parts.start] = by_pipe
    into = network.boundaries.set_index("meter_id")
    cut = network.nodes["cut"].astype(str)
    for node in np.flatnonzero(cut.isin(set(into.index)).to_numpy()):
        sides = into.loc[cut.iloc[node]]
        cell[node] = sides["downstream_cell_id"] or sides["upstream_cell_id"]
    return cell


def _known_levels(network: Network) -> dict[str, Any]:
    told = [t for t in (network.connections, network.sensors) if len(t)]
    if not told:
        return {"known_x_y_m": np.zeros((0, 2)), "known_level_m": np.zeros(0)}
    return {
        "known_x_y_m": np.vstack([_xy(t) for t in told]),
        "known_level_m": np.concatenate([t["elevation_m"].to_numpy(dtype=float) for t in told]),
    }


def _xy(layer: Any) -> Reals:
    return np.column_stack([layer.geometry.x, layer.geometry.y]).reshape(-1, 2)
