"""A step test as read: the fall of the inflow at each closure, and what its section uses anyway."""

from __future__ import annotations

from dataclasses import astuple, dataclass, replace
from itertools import pairwise
from typing import Any

import numpy as np
import pandas as pd

from district.break_rates import Reals
from district.hydraulics.stepping import (
    LEAST_SD_L_S,
    READ_SHARE,
    RISE_SHARE,
    SETTLE_S,
    NightUse,
    Z,
    read_limit_l_s,
    scaled,
    section_use,
    step_l,
)
from district.locate.pooling import Wholes
from district.locate.step_sections import sections
from district.network import Network
from district.network.ways import pipes_in_order
from district.settings import Settings
from district.words import missing


@dataclass(frozen=True, eq=False)
class Steps:
    """Sections of one test: 0 is what was never shut, k what the k-th closure cut off.

    valves (K), drop_l_s (K + 1; NaN where no flow before it is known), left_l_s (K + 1), sd_l_s
    prepared_count
        valves shut before the inflow was first read without one: they part the sections.
    """

    valves: tuple[str, ...]
    drop_l_s: Reals
    left_l_s: Reals
    sd_l_s: Reals
    prepared_count: int = 0


def of_zone(
    network: Network, cell_id: str, step_tests: pd.DataFrame
) -> list[tuple[str, pd.DataFrame]]:
    """The tests of table STEP_TESTS that shut a valve of the zone, each with its rows in order of
    time."""
    found = []
    for test_id, rows in step_tests.dropna(subset=["time", "flow_l_s"]).groupby("test_id"):
        cells = network.valves["cell_id"].reindex(rows["valve_id"].dropna())
        if (cells == cell_id).any():
            found.append((str(test_id), rows.sort_values("time", kind="stable")))
    return found


def read_steps(network: Network, cell_id: str, rows: pd.DataFrame) -> tuple[Steps, Wholes, Any]:
    """One test, its rows in order of time: its steps, the section of each pipe (P, by pipe_id) as
    `sections` has it, and which sections tell of themselves (K + 1)."""
    steps = _steps(rows, step_l(network, cell_id))
    section, feeds = sections(network, cell_id, steps.valves)
    drawn = np.isin(range(len(feeds)), section)
    steps = _carried(steps, drawn)
    return steps, section, np.isfinite(steps.drop_l_s) & ~feeds & drawn


def expected_use(
    network: Network,
    steps: Steps,
    section: Wholes,
    usable: Any,
    *,
    flow_l_s: float,
    limit_l_s: float,
    settings: Settings,
) -> NightUse:
    """Night use and background of each section (K + 1), brought to the zone's inflow at the start
    less the leak's flow, known to `limit_l_s`; not where the flow is NaN."""
    by_pipe = pd.Series(section, index=pipes_in_order(network).index)
    use = section_use(network, by_pipe, len(steps.drop_l_s), settings=settings)
    start = float(steps.drop_l_s[usable].sum())
    own = NightUse(*(np.where(usable, part, 0.0) for part in astuple(use)))
    limit = float(np.hypot(limit_l_s, READ_SHARE * start))
    of_zone = scaled(own, rest_l_s=start - flow_l_s, rest_limit_l_s=limit)
    parts = zip(astuple(of_zone), astuple(use), strict=True)
    return NightUse(*(np.where(usable, mine, other) for mine, other in parts))


def beyond_use(steps: Steps, use: NightUse) -> tuple[Reals, Reals]:
    """What each section took beyond its night use and background (K + 1), and the standard
    deviation of it; wider for the pressure that rises in what stays open."""
    rise = RISE_SHARE * steps.left_l_s
    sd = np.sqrt(steps.sd_l_s**2 + use.sd_l_s() ** 2 + (rise / 2) ** 2 + LEAST_SD_L_S**2)
    return steps.drop_l_s - use.use_l_s + rise, sd


def _steps(rows: pd.DataFrame, counted_l: float) -> Steps:
    gaps = rows["time"].diff().dt.total_seconds()
    # Read before the first gap as long as after it, never longer than flows take to settle.
    interval = gaps.bfill().fillna(SETTLE_S).clip(1.0, SETTLE_S)
    flows = rows["flow_l_s"].to_numpy(dtype=float)
    limit = read_limit_l_s(flows, step_l=counted_l, interval_s=interval.to_numpy())
    stated = rows["spread_l_s"].to_numpy(dtype=float)
    read = np.where(np.isfinite(stated), stated, limit) / Z
    valves: list[str] = []
    drop: list[float] = []
    left: list[float] = []
    sd: list[float] = []
    before, before_sd = np.nan, 0.0
    prepared: int | None = None
    for row, flow, read_sd in zip(rows.itertuples(index=False), flows, read, strict=True):
        if missing(row.valve_id) and prepared is None:
            prepared = len(valves)
        if not missing(row.valve_id) and row.valve_id not in valves:
            valves.append(str(row.valve_id))
            drop.append(before - flow)
            left.append(flow)
            sd.append(float(np.hypot(read_sd, before_sd)))
        before, before_sd = flow, read_sd
    return Steps(
        tuple(valves),
        np.array([before, *drop]),
        np.array([0.0, *left]),
        np.array([before_sd, *sd]),
        prepared or 0,
    )


def _carried(steps: Steps, drawn: Any) -> Steps:
    """With the drop of a closure that cuts nothing off on the map added to the next that does, or
    to what stays open: its valve is one of several to a section, or not on the map. What fell in
    preparation is of none: the inflow was read again after it."""
    drop, variance = steps.drop_l_s.copy(), steps.sd_l_s**2
    order = [*range(1, len(drop)), 0]
    for step, following in pairwise(order):
        if not drawn[step] and step > steps.prepared_count:
            drop[following] += drop[step]
            variance[following] += variance[step]
    return replace(steps, drop_l_s=drop, sd_l_s=np.sqrt(variance))
