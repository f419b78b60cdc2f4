"""Tables of what began: events to act on and the others, repairs, buildings, alarm sensors."""

from __future__ import annotations

from typing import Any

import pandas as pd
from rich.table import Table
from rich.text import Text

from district.cli.layout import estimate, or_none, titled
from district.results import Events
from district.watch import sure
from district.words import EMPTY, day, missing, plural, spelled, true, whole

_WIDEST = 22


def buildings_of(happened: Events) -> dict[str, str]:
    """What building each meter or sensor belongs to, of those that tell: id -> building_id."""
    known: dict[str, str] = {}
    for frame, name in (
        (happened.building_checks, "device_id"),
        (happened.sensor_checks, "sensor_id"),
    ):
        told = frame[~frame["building_id"].map(missing).astype(bool)]
        known |= dict(zip(told[name].astype(str), told["building_id"].astype(str), strict=True))
    return known


def acting(events: pd.DataFrame) -> pd.DataFrame:
    """The events to act on, in order: by rank, those without one last."""
    rows = events[events["act"].map(true).astype(bool)]
    return rows.sort_values("rank", kind="stable", na_position="last")


def place_name(row: Any, buildings: dict[str, str], names: pd.Series[Any]) -> str:
    """Where an event is: the zone's name; of a meter or sensor its building, else its zone."""
    zone = str(names.get(row.cell_id, row.cell_id))
    if row.place_kind == "zone":
        return zone
    own = str(row.place_id)
    building = buildings.get(own, "")
    if row.place_kind == "building" and building:
        return f"{building}, {zone}"
    return f"{own}, {building or zone}"


def kind_name(kind: Any, share: Any) -> str:
    """What it likely is and how probable that is: 'leak 92 %'; sensors have no probability."""
    return spelled(kind) if missing(share) else f"{spelled(kind)} {sure(share)}"


def acting_table(
    happened: Events, names: pd.Series[Any], *, currency: str, shown: int | None = None
) -> Table:
    """Events to act on, in order, the first `shown` of them; `names` of zones by cell_id."""
    table = titled(
        "Events worth acting on, in order",
        "Where",
        "What, how likely",
        "Since",
        "Rise\nL/s",
        "To date\nm³",
        f"To date\n{currency}",
        left=3,
    )
    table.columns[0].max_width = _WIDEST
    buildings = buildings_of(happened)
    for row in acting(happened.events).head(shown).itertuples():
        table.add_row(
            Text(place_name(row, buildings, names)),
            kind_name(row.kind, row.kind_share),
            day(row.start),
            estimate(row, "size_l_s"),
            estimate(row, "volume_m3"),
            estimate(row, "cost_currency"),
        )
    return or_none(table)


def dated_table(happened: Events, names: pd.Series[Any], *, currency: str) -> Table:
    """Every event to act on, in order, with the limits of its start and how long it has run."""
    table = titled(
        "To act on, in order",
        "Where",
        "What, how likely",
        "Since",
        "Runs\ndays",
        "Rise\nL/s",
        "To date\nm³",
        f"To date\n{currency}",
        left=3,
    )
    buildings = buildings_of(happened)
    for row in acting(happened.events).itertuples():
        table.add_row(
            Text(place_name(row, buildings, names)),
            kind_name(row.kind, row.kind_share),
            _since(row),
            _days(row),
            estimate(row, "size_l_s"),
            estimate(row, "volume_m3"),
            estimate(row, "cost_currency"),
        )
    return or_none(table)


def others_table(happened: Events, names: pd.Series[Any], *, currency: str) -> Table:
    """Every event that asks for nothing now, newest first, with how it stands."""
    table = titled(
        "The others: over, explained, or the same water as one above",
        "Where",
        "What, how likely",
        "How it stands",
        "First night\nlast night",
        "Rise\nL/s",
        "Lost\nm³",
        f"Lost\n{currency}",
        left=4,
    )
    buildings = buildings_of(happened)
    rows = happened.events[~happened.events["act"].map(true).astype(bool)]
    for row in rows.sort_values("start", ascending=False, kind="stable").itertuples():
        work = "" if missing(row.work) else f": {row.work}"
        table.add_row(
            Text(place_name(row, buildings, names)),
            kind_name(row.kind, row.kind_share),
            Text(f"{spelled(row.state)}{work}"),
            f"{day(row.start)}\n{'' if missing(row.end) else day(row.end)}",
            estimate(row, "size_l_s"),
            estimate(row, "volume_m3"),
            estimate(row, "cost_currency"),
        )
    return table


def repairs_table(happened: Events, names: pd.Series[Any], *, shown: int | None = None) -> Table:
    """What repairs did to the night flow, the latest first."""
    table = titled(
        "Repairs on record, and what the night flow says",
        "Where",
        "Repaired",
        "Verdict",
        "Ran before\nL/s",
        "Fell by\nL/s",
        "Still runs\nL/s",
        left=3,
    )
    buildings = buildings_of(happened)
    latest = happened.repair_checks.sort_values("repaired", ascending=False, kind="stable")
    for row in latest.head(shown).itertuples():
        own = str(row.place_id)
        table.add_row(
            Text(buildings.get(own) or str(names.get(own, own))),
            day(row.repaired),
            spelled(row.verdict),
            estimate(row, "before_l_s"),
            estimate(row, "drop_l_s"),
            estimate(row, "remaining_l_s"),
        )
    return table


def buildings_table(
    happened: Events, names: pd.Series[Any], *, currency: str, shown: int | None = None
) -> Table:
    """Meters of buildings worth a visit, the dearest first."""
    table = titled(
        "Buildings worth a visit",
        "Building",
        "Meter, zone",
        "Its meter shows",
        "Since",
        "Flow\nL/s",
        f"Costs\n{currency}/year",
        left=4,
    )
    table.columns[0].max_width = _WIDEST
    for row in visits(happened.building_checks).head(shown).itertuples():
        zone = names.get(row.cell_id, row.cell_id)
        table.add_row(
            Text(EMPTY if missing(row.building_id) else str(row.building_id)),
            Text(f"{row.device_id}, {zone}"),
            spelled(row.verdict),
            day(row.since),
            estimate(row, "constant_l_s"),
            estimate(row, "cost_currency_year"),
        )
    return table


def visits(checks: pd.DataFrame) -> pd.DataFrame:
    """The checks of meters worth a visit, the dearest first, those without a cost last."""
    rows = checks[checks["act"].map(true).astype(bool)]
    return rows.sort_values(
        ["cost_currency_year", "device_id"], ascending=[False, True], kind="stable"
    )


def not_sound(checks: pd.DataFrame) -> pd.DataFrame:
    """The sensors that cannot be believed as they are."""
    return checks[checks["verdict"] != "sound"]


def sensor_name(row: Any, names: pd.Series[Any]) -> str:
    """A sensor as people know it: 'WF-3 (wet floor, Alder Laboratory)'."""
    place = names.get(row.cell_id, row.cell_id) if missing(row.building_id) else row.building_id
    return f"{row.sensor_id} ({spelled(row.kind)}, {place})"


def more(count: int, shown: int, noun: str, where: str) -> str:
    """A line where more than the rows shown there are, else ''."""
    return f"... and {plural(count - shown, f'more {noun}')} in {where}." if count > shown else ""


def _days(row: Any) -> str:
    """Days it has run: whole ones, where no limits tell otherwise."""
    known = not missing(row.run_d) and missing(row.run_d_low)
    same = known or row.run_d_low == row.run_d_high
    return whole(row.run_d) if same and not missing(row.run_d) else estimate(row, "run_d")


def _since(row: Any) -> str:
    first, low, high = day(row.start), day(row.since_first), day(row.since_last)
    if missing(row.since_first) or missing(row.since_last) or low == high:
        return first
    return f"{first}\n{low} to\n{high}"
