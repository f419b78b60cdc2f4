"""What a step test says: how much of the night's inflow each shut section took with it."""

from __future__ import annotations

from dataclasses import dataclass, replace
from itertools import pairwise
from typing import Any

import numpy as np
import pandas as pd
from scipy.sparse import coo_array
from scipy.sparse.csgraph import connected_components
from scipy.spatial import cKDTree
from scipy.stats import norm

from district.locate.pooling import Wholes
from district.locate.rates import Reals
from district.locate.scene import Scene, Z, tempered, there_share, too_early
from district.locate.spots import Evidence, Sought
from district.network import Network
from district.network.ways import pipes_in_order
from district.words import brief, figure, missing, plural

_AT_M = 2.0
"""A valve farther from every node of the zone's pipes parts nothing."""
_READ_SHARE = 0.02
"""95 % limit of a flow read during the test, where none is stated."""
_RISE_SHARE = 0.05
"""Each closure lowers the flow and the head lost, so that pressure and what still leaks rise in the
part left open, and later steps are under-stated: Thornton, Sturm & Kunkel 2008, p. 277. By up to
twice this share of the flow left; the figure is an assumption."""
OTHER_IN_SECTION = 0.1
"""Chance that a section holds another leak, or a use nobody knows of. Assumption."""
_SIZE_SHARE = (0.15, 0.5)
"""Standard deviation of what a leak loses on the night of the test, as a share of its size: by
pressure, and much more of one that grows. Assumption."""
_WRONG = 0.05
_LEAST_SD_L_S = 0.001
"""No meter is read finer, nor is a section's use known better. Assumption."""
_SETTLE_S = 900.0
"""Steps are about a quarter of an hour apart (same source, figure 16.14)."""


@dataclass(frozen=True, eq=False)
class _Steps:
    """Sections of one test: 0 is what was never shut, k what the k-th closure cut off.

    valves (K), drop_l_s (K + 1; NaN where no flow before it is known), left_l_s (K + 1), sd_l_s
    """

    valves: tuple[str, ...]
    drop_l_s: Reals
    left_l_s: Reals
    sd_l_s: Reals


def step_evidence(scene: Scene, step_tests: pd.DataFrame) -> list[Evidence]:
    """What each step test of the zone says, one piece of evidence a test.

    `step_tests`: input table STEP_TESTS. A section's drop is what it used, its background leakage
    and, where the leak is in it, the leak. Use is the allowance of its properties, with its spread.
    """
    told = []
    valves = scene.network.valves
    for test_id, rows in step_tests.dropna(subset=["time", "flow_l_s"]).groupby("test_id"):
        cells = valves["cell_id"].reindex(rows["valve_id"].dropna())
        if (cells == scene.sought.cell_id).any():
            told.append(_one(scene, str(test_id), rows.sort_values("time", kind="stable")))
    return told


def _one(scene: Scene, test_id: str, rows: pd.DataFrame) -> Evidence:
    day = rows["time"].iloc[0].tz_convert(scene.settings.zone_info()).date()
    head = f"Step test {test_id} on {day}"
    there = there_share(scene, day)
    if there == 0:
        return scene.unused("step_test", f"{head}: {too_early(scene)}")
    steps = _steps(rows)
    section, feeds = sections(scene.network, scene.sought.cell_id, steps.valves)
    drawn = np.isin(range(len(feeds)), section)
    steps = _carried(steps, drawn)
    usable = np.isfinite(steps.drop_l_s) & ~feeds & drawn
    if usable.sum() < 2:
        said = f"{head}: its valves and flows tell fewer than two sections of the map apart"
        return scene.unused("step_test", said)
    use, use_sd = _used(scene, section, len(feeds))
    rise = _RISE_SHARE * steps.left_l_s
    net = steps.drop_l_s - use + rise
    sd = np.sqrt(steps.sd_l_s**2 + use_sd**2 + (rise / 2) ** 2 + _LEAST_SD_L_S**2)
    most_l_s = float(np.nanmax(steps.left_l_s + steps.drop_l_s))
    gain = _gain(net, sd, scene.sought, most_l_s)
    by_section = np.append(np.where(usable, gain, 0.0), 0.0)
    likely = tempered(
        by_section[section[scene.spots.pipe[scene.own]]], wrong_share=_WRONG, there_share=there
    )
    length_m = pipes_in_order(scene.network)["length_m"].to_numpy(dtype=float)
    best = int(np.argmax(np.where(usable, net, -np.inf)))
    where = f"shut at valve {steps.valves[best - 1]}" if best else "that stayed open"
    half = Z * float(sd[best])
    took = figure(net[best], net[best] - half, net[best] + half, "flow_l_s")
    said = (
        f"{head}: of {plural(int(usable.sum()), 'section')}, the one {where} "
        f"({brief(length_m[section == best].sum() / 1000)} km) took most beyond its night use and "
        f"background, {took}; limits wider, as pressure rises in what stays open."
    )
    return scene.evidence("step_test", said, likely)


def _steps(rows: pd.DataFrame) -> _Steps:
    valves: list[str] = []
    drop: list[float] = []
    left: list[float] = []
    sd: list[float] = []
    before, before_sd = np.nan, 0.0
    for row in rows.itertuples(index=False):
        flow = float(row.flow_l_s)
        read_sd = (_READ_SHARE * flow if missing(row.spread_l_s) else float(row.spread_l_s)) / Z
        if not missing(row.valve_id) and row.valve_id not in valves:
            valves.append(str(row.valve_id))
            drop.append(before - flow)
            left.append(flow)
            sd.append(float(np.hypot(read_sd, before_sd)))
        before, before_sd = flow, read_sd
    return _Steps(
        tuple(valves),
        np.array([before, *drop]),
        np.array([0.0, *left]),
        np.array([before_sd, *sd]),
    )


def _carried(steps: _Steps, drawn: Any) -> _Steps:
    """With the drop of a closure that cuts nothing off on the map added to the next that does, or
    to what stays open: its valve is one of several to a section, or not on the map."""
    drop, variance = steps.drop_l_s.copy(), steps.sd_l_s**2
    order = [*range(1, len(drop)), 0]
    for step, following in pairwise(order):
        if not drawn[step]:
            drop[following] += drop[step]
            variance[following] += variance[step]
    return replace(steps, drop_l_s=drop, sd_l_s=np.sqrt(variance))


def sections(network: Network, cell_id: str, valves: tuple[str, ...]) -> tuple[Wholes, Any]:
    """The section of each pipe (P, by pipe_id), and which sections feed other zones (K + 1).

    Section k is what the k-th of `valves`, shut one after another, cuts off from every inlet of
    the zone; 0 what is fed to the end; -1 what is not of the zone or was not fed at all.
    """
    pipes = pipes_in_order(network)
    home = (pipes["cell_id"] == cell_id).to_numpy()
    ends = pipes[["start_position", "end_position"]].to_numpy(dtype=np.int64)
    cut = (network.nodes["cut"] != "").to_numpy()
    meter_at = dict(zip(network.nodes["cut"], range(len(cut)), strict=True))
    bounds = network.boundaries
    inlets = bounds.loc[bounds["downstream_cell_id"] == cell_id, "meter_id"]
    outlets = bounds.loc[bounds["upstream_cell_id"] == cell_id, "meter_id"]
    fed_at = np.isin(ends, [meter_at[m] for m in inlets if m in meter_at]).any(axis=1)
    sources = network.sources
    fed_at |= pipes.index.isin(sources.loc[sources["cell_id"] == cell_id, "pipe_id"])
    leaves_at = np.isin(ends, [meter_at[m] for m in outlets if m in meter_at]).any(axis=1)
    section = np.full(len(pipes), -1, dtype=np.int64)
    shut = cut.copy()
    before = _fed(ends, shut, home, fed_at)
    for number, valve in enumerate(valves, start=1):
        node = _node_of(network, valve, ends[home])
        if node >= 0:
            shut[node] = True
        after = _fed(ends, shut, home, fed_at)
        section[before & ~after] = number
        before = after
    section[before] = 0
    feeds = np.zeros(len(valves) + 1, dtype=bool)
    feeds[np.unique(section[home & leaves_at & (section >= 0)])] = True
    return section, feeds


def _fed(ends: Wholes, shut: Any, home: Any, fed_at: Any) -> Any:
    """Which of the zone's pipes an inlet still reaches."""
    count = len(ends)
    pipe, node = np.repeat(np.arange(count), 2), ends.ravel()
    open_here = home[pipe] & ~shut[node]
    size = count + len(shut)
    links = coo_array(
        (np.ones(int(open_here.sum())), (pipe[open_here], count + node[open_here])),
        shape=(size, size),
    )
    label = connected_components(links, directed=False)[1][:count]
    return home & np.isin(label, label[fed_at & home])


def _node_of(network: Network, valve: str, ends: Wholes) -> int:
    """The node of the zone's pipes at which a valve stands, -1 if it is at none."""
    if valve not in network.valves.index:
        return -1
    point = network.valves.geometry.loc[valve]
    own = np.unique(ends)
    spots = network.nodes.geometry.iloc[own]
    distance, near = cKDTree(np.column_stack([spots.x, spots.y])).query([point.x, point.y])
    return int(own[near]) if distance <= _AT_M else -1


def _used(scene: Scene, section: Wholes, count: int) -> tuple[Reals, Reals]:
    """Night use and background leakage by section, and their standard deviation."""
    network, settings = scene.network, scene.settings
    pipes, background = pipes_in_order(network), settings.background
    by_pipe = pd.Series(section, index=pipes.index)
    owned = network.connections
    own = by_pipe.reindex(owned["pipe_id"]).fillna(-1).to_numpy(dtype=np.int64)
    use, variance = np.zeros(count), np.zeros(count)
    household = settings.allowances["household"]
    for use_class, rows in owned.assign(section=own).groupby("use_class"):
        allowance = settings.allowances.get(str(use_class), household)
        number = np.bincount(
            np.maximum(rows["section"], 0), rows["properties"] * (rows["section"] >= 0), count
        )
        mean = number * allowance.l_property_h / 3600
        use += mean
        # What is known of the mean, and that few draws fall into a quarter of an hour.
        variance += (allowance.spread_share / Z * mean) ** 2
        variance += (
            mean * allowance.burst_l / _SETTLE_S * (1 + (allowance.burst_spread_share / Z) ** 2)
        )
    here = section >= 0
    km = np.bincount(section[here], pipes["length_m"].to_numpy(dtype=float)[here], count) / 1000
    taps = np.bincount(own[own >= 0], minlength=count)
    leaks = (
        background.condition_factor
        / 3600
        * (background.mains_l_km_h * km + background.connection_l_connection_h * taps)
    )
    return use + leaks, np.sqrt(variance + (0.5 * leaks) ** 2)


def _gain(net: Reals, sd: Reals, sought: Sought, most_l_s: float) -> Reals:
    """By section, how much likelier all drops are with the leak in it than without any: log."""
    known_sd = (sought.flow_l_s_high - sought.flow_l_s_low) / (2 * Z)
    flow_sd = np.hypot(known_sd, _SIZE_SHARE[sought.kind == "growing_leak"] * sought.flow_l_s)
    other = OTHER_IN_SECTION / max(most_l_s, 1e-6)
    without = (1 - OTHER_IN_SECTION) * norm.pdf(net, 0.0, sd) + other
    inside = (1 - OTHER_IN_SECTION) * norm.pdf(net, sought.flow_l_s, np.hypot(sd, flow_sd)) + other
    return np.asarray(np.log(inside) - np.log(without))
