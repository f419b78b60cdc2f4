"""Valves that shut by themselves, for people: what to set, what it trades, what to settle first."""

from __future__ import annotations

import pandas as pd
from rich.table import Table
from rich.text import Text

from district.cli.layout import estimate, named, or_none, print_lines, show, titled
from district.cli.say import basis
from district.results import ShutOff
from district.schema.event_tables import SHUTOFF_CAUTION
from district.words import EMPTY, brief, listed, missing, plural, true

SHOWN = 5
"""Buildings whose trade-off is printed; --json has all."""
MOST_TRIPS = 12.0
"""Nobody bears a valve that shuts more often than each month."""
NOTHING = (
    "No building has a valve of kind automatic_shutoff, or had a leak behind a meter read by the "
    "hour. With advise_all under [shut_off] in district.toml every such building is replayed."
)


def settings_table(settings: pd.DataFrame) -> Table:
    """What each valve should be set to, a row a meter."""
    table = titled(
        "Valves that shut by themselves: when to trip",
        "Building",
        "Meter",
        "Valve",
        "Flow\nL/s",
        "Time\nh",
        "False trips\n1/year",
        "Past leaks",
        "Lost\nm³",
        "With valve\nm³",
        left=3,
    )
    for row in settings.itertuples():
        table.add_row(
            named(row.building_id),
            Text(str(row.device_id)),
            named(row.valve_id),
            _plain(row.trip_l_s),
            _plain(row.trip_h),
            estimate(row, "false_trips_per_year"),
            EMPTY if missing(row.leaks_count) else f"{row.leaks_count:.0f}",
            estimate(row, "leaked_m3"),
            estimate(row, "leaked_with_m3"),
        )
    return or_none(table)


def curve_table(curve: pd.DataFrame) -> Table:
    """False trips against water lost; the advised setting is marked."""
    table = titled(
        "False trips against water lost, by setting",
        "Meter",
        "",
        "Flow\nL/s",
        "Time\nh",
        "False trips\n1/year",
        "With valve\nm³",
        left=2,
    )
    shown = list(dict.fromkeys(curve["device_id"]))[:SHOWN]
    seldom = (curve["false_trips_per_year"] <= MOST_TRIPS) | curve["advised"].map(true).astype(bool)
    for row in curve[curve["device_id"].isin(shown) & seldom].itertuples():
        table.add_row(
            Text(str(row.device_id)),
            "advised" if true(row.advised) else "",
            _plain(row.trip_l_s),
            _plain(row.trip_h),
            estimate(row, "false_trips_per_year"),
            estimate(row, "leaked_with_m3"),
        )
    return or_none(table)


def advice_lines(settings: pd.DataFrame) -> list[str]:
    """The advice for each meter, what must be settled there first; alike ones are told once."""
    said: dict[str, list[str]] = {}
    for row in settings.itertuples():
        own = str(row.cautions).removeprefix(SHUTOFF_CAUTION).strip()
        advice = f"{str(row.advice).rstrip('.')}. {own}".strip()
        said.setdefault(advice, []).append(str(row.device_id))
    return [f"- {listed(devices, shown=SHOWN)}: {advice}" for advice, devices in said.items()]


def print_shutoff(found: ShutOff) -> None:
    """The whole printed output of `district shutoff`."""
    if found.settings.empty:
        print_lines([NOTHING, *found.basis.limits])
        print_lines([SHUTOFF_CAUTION])
        return
    show(settings_table(found.settings))
    print_lines(advice_lines(found.settings))
    if len(found.curve):
        show(curve_table(found.curve))
        more = found.curve["device_id"].nunique() - SHOWN
        others = f", and {plural(more, 'more meter')}" if more > 0 else ""
        said = f"--json has the settings that trip more than {MOST_TRIPS:g} times a year too"
        print_lines([f"{said}{others}."])
    print_lines(basis(found.basis, "This rests on"))
    print_lines([SHUTOFF_CAUTION])


def _plain(value: float) -> str:
    return EMPTY if missing(value) else brief(value)
