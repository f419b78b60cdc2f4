"""What `district events` prints: what to act on and why, the rest, repairs, buildings, sensors."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

import pandas as pd

from district.cli.event_tables import (
    acting,
    acting_table,
    buildings_of,
    buildings_table,
    dated_table,
    more,
    not_sound,
    others_table,
    place_name,
    repairs_table,
    sensor_name,
    visits,
)
from district.cli.layout import print_lines, show
from district.cli.say import basis, caution
from district.render import zones_named
from district.results import Events
from district.settings import Settings
from district.watch import sure
from district.words import day, missing, plural, spelled

LEAST_SHARE = 0.02
"""Causes less likely than this are not printed; --json has all."""
SHOWN, SHOWN_BESIDE = 10, 5
"""Events that the report prints, and of repairs, buildings and sensors each."""
_VERDICTS = {
    "constant_flow": "flow that never stops, as long as there are readings",
    "empty_flow": "some flow while nobody is there",
    "below_resolution": "too coarse to show a small leak",
    "dead": "nothing counted, as on record",
    "stuck": "one and the same flow",
    "still": "no flow at times, as it should be",
    "too_few": "too few readings to tell",
}
"""What meters that ask for no visit show."""
_NAMED = ("constant_flow", "empty_flow", "below_resolution", "dead", "stuck")
_DECIDES = (
    "The order is that of the water lost and of how sure that is. A probability is what speaks for "
    "one cause beside the others; it is no measurement."
)


def to_act_on(happened: Events) -> bool:
    """Whether an event, a building's meter or an alarm sensor asks for action."""
    return bool(
        len(acting(happened.events))
        or len(visits(happened.building_checks))
        or len(not_sound(happened.sensor_checks))
    )


def print_events(happened: Events, zones: pd.DataFrame, settings: Settings) -> None:
    """The whole printed output of `district events`; `zones` has cell_id and name."""
    names = zones.set_index("cell_id")["name"]
    currency = settings.district.currency
    show(dated_table(happened, names, currency=currency))
    if len(acting(happened.events)):
        print_lines(["Why each is taken for that"])
        for lines in _reasons(happened, zones, names):
            print_lines(lines)
        print_lines([_DECIDES])
    others = others_table(happened, names, currency=currency)
    if others.row_count:
        show(others)
    if len(happened.repair_checks):
        show(repairs_table(happened, names))
        latest = happened.repair_checks.sort_values("repaired", ascending=False, kind="stable")
        print_lines([f"- {_sentence(str(said), zones)}" for said in latest["said"]])
    _print_buildings(happened, names, currency)
    _print_sensors(happened, names)
    print_lines(basis(happened.basis, "Events rest on"))
    print(caution())


def print_beside(happened: Events, names: pd.Series[Any], currency: str) -> None:
    """What the report prints of events, repairs, buildings and sensors: a few rows of each."""
    show(acting_table(happened, names, currency=currency, shown=SHOWN))
    count = len(acting(happened.events))
    print_lines(
        [
            more(count, SHOWN, "event", "tables/events.csv"),
            "'district events' says why each is taken for that, and what else it may be."
            if count
            else "",
        ]
    )
    repairs, checks = happened.repair_checks, visits(happened.building_checks)
    if len(repairs):
        show(repairs_table(happened, names, shown=SHOWN_BESIDE))
        print_lines([more(len(repairs), SHOWN_BESIDE, "repair", "tables/repair_checks.csv")])
    if len(checks):
        show(buildings_table(happened, names, currency=currency, shown=SHOWN_BESIDE))
        print_lines([more(len(checks), SHOWN_BESIDE, "building", "tables/building_checks.csv")])
    sensors = not_sound(happened.sensor_checks)
    lines = [f"- {_sensor(row, names)}" for row in sensors.itertuples()]
    if lines:
        left = more(len(lines), SHOWN_BESIDE, "sensor", "tables/sensor_checks.csv")
        print_lines(["Alarm sensors not to be believed:", *lines[:SHOWN_BESIDE], left])


def _reasons(happened: Events, zones: pd.DataFrame, names: pd.Series[Any]) -> Iterator[list[str]]:
    """Of each event to act on why, and beneath it its causes with what speaks for each."""
    buildings = buildings_of(happened)
    causes = dict(iter(happened.causes.groupby("event_id", sort=False)))
    for row in acting(happened.events).itertuples():
        where = place_name(row, buildings, names)
        said = f"{where}, since {day(row.start)} ({row.event_id})."
        lines = [said if missing(row.reason) else f"{said} {_sentence(row.reason, zones)}"]
        own = causes.get(row.event_id, happened.causes.iloc[:0])
        for cause in own[own["probability_share"] >= LEAST_SHARE].itertuples():
            said = f"- {spelled(cause.kind)} {sure(cause.probability_share)}."
            lines.append(
                said if missing(cause.reason) else f"{said} {_sentence(cause.reason, zones)}"
            )
        yield lines


def _print_buildings(happened: Events, names: pd.Series[Any], currency: str) -> None:
    checks = happened.building_checks
    if checks.empty:
        return
    worth = visits(checks)
    if len(worth):
        show(buildings_table(happened, names, currency=currency))
    print_lines([f"- {_building(row)}: {_sentence(row.said)}" for row in worth.itertuples()])
    rest = checks[~checks.index.isin(worth.index)]
    lines = []
    for verdict, said in _VERDICTS.items():
        own = rest[rest["verdict"] == verdict]
        if own.empty:
            continue
        line = f"- {plural(len(own), 'meter')}: {said}"
        few = [_building(row) for row in own.head(SHOWN).itertuples()]
        left = f" and {len(own) - SHOWN} more" if len(own) > SHOWN else ""
        lines.append(f"{line}: {', '.join(few)}{left}" if verdict in _NAMED else line)
    print_lines(["The other meters of buildings and customers:", *lines] if lines else [])


def _print_sensors(happened: Events, names: pd.Series[Any]) -> None:
    checks = happened.sensor_checks
    if checks.empty:
        return
    doubtful = not_sound(checks)
    lines = [f"- {_sensor(row, names)}" for row in doubtful.itertuples()]
    sound = len(checks) - len(lines)
    if lines:
        print_lines(["Alarm sensors not to be believed:", *lines])
    print_lines([f"{plural(sound, 'alarm sensor')} {'is' if sound == 1 else 'are'} sound."])


def _building(row: Any) -> str:
    own = str(row.device_id)
    return own if missing(row.building_id) else f"{row.building_id} ({own})"


def _sensor(row: Any, names: pd.Series[Any]) -> str:
    said = f"{sensor_name(row, names)}, {spelled(row.verdict)}."
    return said if missing(row.said) else f"{said} {_sentence(row.said)}"


def _sentence(text: str, zones: pd.DataFrame | None = None) -> str:
    """The text with a capital and a full stop, zones called by their names."""
    said = text if zones is None else zones_named(text, zones)
    parts = [part for part in said.rstrip(".").split(". ") if part]
    return ". ".join(f"{part[:1].upper()}{part[1:]}" for part in parts) + "."
