"""A step test of one zone: planned by where the leak likely is, and what earlier tests read.

Between the pipeline's folder and the rooms it calls.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from typing import Any

import numpy as np
import pandas as pd

from district import isolate, locate
from district.errors import Finding, InputError
from district.network import Network
from district.opening import Opened
from district.results import Location
from district.schema.entry_forms import not_closing
from district.settings import Settings
from district.words import closest, figure, listed, missing, natural


@dataclass(frozen=True, eq=False)
class StepTest:
    """The plan of a step test of a zone, and table STEP_SECTIONS of the tests it had.

    rests_on
        what the plan rests on, one sentence each; `results_rest_on` the same of the results.
    network, district, last
        where it is, what the district is called, and the last night of its readings.
    """

    cell_id: str
    name: str
    plan: isolate.StepPlan
    results: pd.DataFrame
    rests_on: tuple[str, ...]
    results_rest_on: tuple[str, ...]
    network: Network
    district: str
    last: date | None


def step_test_of(
    opened: Opened,
    nights: pd.DataFrame,
    location: Location,
    *,
    zone: str,
    steps_count: int,
    night: isolate.Night,
) -> StepTest:
    """Plan a step test for the largest leak looked for in a zone, by id or name.

    Where none is looked for, for one of `[locate] leak_l_s`, anywhere by the prior leak
    rates. Valves that a crew found not to close are left out. `nights`: table NIGHTS. Raises
    `InputError` for a zone that is none, `StageError` where it cannot be tested.
    """
    network, settings = opened.network, opened.settings
    cell_id = cell_of(network, zone)
    sought, whose = sought_in(location.search_sets, cell_id, nights, settings)
    stuck = stuck_in(network, opened.inputs.entries, cell_id)
    turned = isolate.without_stuck(network, stuck)
    segments = isolate.segments_of(turned, settings=settings)
    plan = isolate.plan_step_test(
        turned,
        segments,
        cell_id,
        probability_share=probability(location.likelihood, cell_id),
        sought=sought,
        night=night,
        settings=settings,
        steps_count=steps_count,
    )
    looked_for = bool((location.search_sets["cell_id"] == cell_id).any())
    results = locate.step_results(
        network,
        cell_id,
        opened.inputs.step_tests,
        settings=settings,
        flow_l_s=sought.flow_l_s if looked_for else np.nan,
        limit_l_s=sought.limit_l_s(),
    )
    return StepTest(
        cell_id=cell_id,
        name=str(network.cells["name"][cell_id]),
        plan=plan,
        results=results,
        rests_on=(whose, *stuck_said(stuck), *plan.assumed),
        results_rest_on=locate.step_assumed(results),
        network=network,
        district=settings.district.name,
        last=nights["night"].max().date() if len(nights) else None,
    )


def stuck_in(network: Network, entries: pd.DataFrame, cell_id: str) -> list[str]:
    """Ids of valves of a zone that a crew found not to close, or not at all; table ENTRIES."""
    valves = network.valves
    told = set(not_closing(entries)["place_id"].astype(str))
    return natural(set(valves.index[valves["cell_id"] == cell_id].astype(str)) & told)


def stuck_said(stuck: Sequence[str]) -> list[str]:
    """That the plan does without these valves; nothing where there are none."""
    if not stuck:
        return []
    return [f"Taken as not closing, as a crew found: {listed(stuck, shown=len(stuck))}."]


def cell_of(network: Network, zone: str) -> str:
    """The cell that `zone` names by id or name. Raises `InputError`."""
    names = network.cells["name"].astype(str)
    for cell_id, name in names.items():
        if zone.strip().casefold() in (str(cell_id).casefold(), name.casefold()):
            return str(cell_id)
    raise InputError(
        [
            Finding(
                "error",
                "--zone",
                got=f'"{zone}"{closest(zone, [*names.index, *names])}',
                expected=f"one of {', '.join(map(str, names.index))}",
                remedy="Give the id or the name of a zone",
            )
        ]
    )


def sought_in(
    search_sets: pd.DataFrame, cell_id: str, nights: pd.DataFrame, settings: Settings
) -> tuple[isolate.Sought, str]:
    """The largest leak of table SEARCH_SETS in a zone with the night flow since it began, and a
    sentence on where its flow is from. `nights`: table NIGHTS."""
    own = search_sets[search_sets["cell_id"] == cell_id].dropna(subset=["flow_l_s"])
    recent = settings.night.recent_nights
    if own.empty:
        flow = settings.locate.leak_l_s
        # Nothing says how much of the inflow such a leak would be: use stays as allowed for.
        return isolate.Sought(flow, flow, flow), (
            f"No leak is looked for in the zone: the plan is for one of {flow:g} L/s, anywhere by "
            "the leak rates expected of its pipes."
        )
    row = own.loc[own["flow_l_s"].idxmax()]
    flow, low, high = (float(row[f"flow_l_s{end}"]) for end in ("", "_low", "_high"))
    inflow = inflow_l_s(nights, cell_id, since=row["start"], nights_count=recent)
    more = "" if own["sought_id"].nunique() == 1 else " (the largest of several in the zone)"
    less = (
        f" The zone took in {figure(inflow, name='flow_l_s')} by night since then, less than the "
        "leak: something else feeds it, or a meter reads wrong. Settle that before a test."
        if inflow < low
        else ""
    )
    return isolate.Sought(flow, low, high, inflow), (
        f"The leak looked for is {row['sought_id']}{more}, {figure(flow, low, high, 'flow_l_s')}, "
        f"where 'district locate' takes it to be.{less}"
    )


def inflow_l_s(nights: pd.DataFrame, cell_id: str, *, since: Any, nights_count: int) -> float:
    """Median inflow of a zone over its last nights in table NIGHTS, none before the leak began;
    NaN where there is none."""
    own = nights[(nights["cell_id"] == cell_id) & nights["inflow_l_s"].notna()]
    if not missing(since):
        own = own[own["night"] >= pd.Timestamp(since)]
    return float(own.sort_values("night")["inflow_l_s"].tail(nights_count).median())


def probability(likelihood: pd.DataFrame, cell_id: str) -> pd.Series[Any]:
    """By pipe_id of a zone, from table LIKELIHOOD: the share of what is looked for there, or the
    expected leak rate where nothing is."""
    own = likelihood[likelihood["cell_id"] == cell_id].set_index("pipe_id")
    share = own["probability_share"].fillna(0.0)
    return share if share.sum() > 0 else own["prior_leaks_per_year"]
