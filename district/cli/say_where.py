"""What `district locate` and `district reach` print for people."""

from __future__ import annotations

from textwrap import fill
from typing import Any

import pandas as pd

from district.cli.event_tables import acting_table
from district.cli.layout import WIDTH, print_lines, show
from district.cli.locate_tables import (
    evidence_table,
    first_leaks,
    sets_table,
    stretches_table,
    uncounted,
)
from district.cli.reach_tables import next_table, reach_table
from district.cli.say import basis, caution
from district.results import Events, Location
from district.settings import Settings
from district.words import (
    FITTING_CAUTION,
    SHOWN,
    STEP_TEST_CAUTION,
    brief,
    figure,
    listed,
    percent,
    plural,
    true,
)

_HOW_TO_READ = (
    "Walk left: metres of main that hold {held} of the probability, by this and all above it; the "
    "first figure of a zone is all its mains. It grows where something speaks against what came "
    "before. Moved: how much of the probability lies elsewhere than it would without this one."
)
_PIECES = (
    "In order of search: where most flow is likely found by metre walked. Walk: where less than "
    "the whole stretch is to be walked, from and to in metres from its western end (southern, "
    "where it runs due north); the map shows the piece."
)


def loggers(checks: pd.DataFrame) -> list[str]:
    """How many pressure loggers the model of the pipes explains, and which not, with why."""
    if checks.empty:
        return []
    used = checks["used"].map(true).astype(bool)
    all_of_them, usable = plural(len(checks), "pressure logger"), int(used.sum())
    left_out = [
        f"- Not {listed(rows['sensor_id'])}: {said}"
        for said, rows in checks[~used].groupby("said", sort=False)
    ]
    if not usable:
        return [
            f"No pressure logger counts: the model of the pipes does not explain the {all_of_them} "
            "well enough. The walks rest on balance, leaks expected and what crews found.",
            *left_out,
        ]
    before, after = (
        brief(float(checks.loc[used, name].median())) for name in ("before_m", "after_m")
    )
    return [
        f"The model of the pipes explains {usable} of {all_of_them}, half of them to {after} m "
        f"or better ({before} m before it was fitted to them).",
        *left_out,
        *_off(checks[used]),
    ]


def _off(checks: pd.DataFrame) -> list[str]:
    """The loggers that read clearly too high or low, worst first."""
    beside = checks[(checks["offset_m_low"] > 0) | (checks["offset_m_high"] < 0)]
    worst = beside["offset_m"].abs().sort_values(ascending=False, kind="stable").index
    lines = []
    for row in beside.loc[worst].head(SHOWN).itertuples():
        way = "high" if row.offset_m > 0 else "low"
        least, most = sorted((abs(row.offset_m_low), abs(row.offset_m_high)))
        by = figure(abs(row.offset_m), least, most, "offset_m")
        lines.append(
            f"- {row.sensor_id} reads {by} too {way}, allowed for: have its level checked."
        )
    if len(beside) > SHOWN:
        lines.append(f"- {plural(len(beside) - SHOWN, 'more logger')}, by less.")
    return lines


def print_location(
    events: Events, location: Location, names: pd.Series[Any], settings: Settings
) -> None:
    """The whole printed output of `district locate`; `names` of the zones by cell_id."""
    sets, evidence = location.search_sets, location.evidence
    currency = settings.district.currency
    show(acting_table(events, names, currency=currency), sets_table(sets, names))
    if len(sets):
        show(evidence_table(evidence, sets, names))
        more = sets["sought_id"].nunique() - len(first_leaks(sets))
        print_lines(
            [
                f"... and {plural(more, 'smaller leak')}: see --json." if more else "",
                _HOW_TO_READ.format(held=percent(settings.locate.hold_share)),
            ]
        )
        left_out = uncounted(evidence, sets, names)
        print_lines(["Did not count:", *left_out] if left_out else [])
    print_lines(loggers(location.logger_checks))
    show(stretches_table(location.stretches, names))
    print_lines([_PIECES] if len(sets) else [])
    print_lines(
        [
            *basis(events.basis, "Events rest on"),
            *basis(location.basis, "The search rests on breaks of"),
        ]
    )
    print(caution())
    if evidence["kind"].eq("step_test").any():
        print(fill(STEP_TEST_CAUTION, WIDTH))


def print_reach(location: Location, names: pd.Series[Any], settings: Settings) -> None:
    """The whole printed output of `district reach`."""
    asked, rate = settings.locate, settings.events.false_alarms_per_year
    show(reach_table(location.zone_reach, location.detectability, names))
    print_lines(
        [
            "Smallest leak: the least that would be noticed on any pipe of the zone within "
            f"{asked.nights_count} nights, at {rate:g} false alarms a year, and no less than is "
            f"listed at all ({settings.events.smallest_l_s:g} L/s). Walk: metres expected before "
            "it is found, as a share of the zone's mains; with nothing to go by, 50 %."
        ]
    )
    show(next_table(location.next_devices, names))
    print_lines(
        [
            f"Each with those above it in place, for a leak of {asked.leak_l_s:g} L/s. A number "
            "after a stroke (P1/2) is a part of the pipe, as valves, meters and joints cut it: the "
            "map's layer 'Next logger or meter' shows where."
            if len(location.next_devices)
            else ""
        ]
    )
    print_lines(loggers(location.logger_checks))
    print_lines(basis(location.ahead, "This rests on breaks of"))
    print(fill(FITTING_CAUTION, WIDTH))
