"""Surveys, step tests, correlations and sightings against the layers they name, and in themselves.

Rows are named by their local date: row numbers would change when the file is sorted.
"""

from __future__ import annotations

from collections.abc import Iterable
from datetime import timedelta
from typing import Any

import pandas as pd

from district.check.step_tests import check_step_tests
from district.check.wording import (
    file_of,
    filled,
    ids_of,
    local_times,
    row_names,
    shortened,
    unknown_values,
)
from district.errors import Finding
from district.results import Inputs
from district.settings import Settings
from district.words import brief, natural, plural

_SLOWEST_M_S = 200.0
"""Sound is slower in no pipe of water. Common practice, no source."""
_LATE = timedelta(days=31)
_SENSOR_PLACES = ("valves", "meters", "sensors", "connections")


def check_field_records(inputs: Inputs, *, settings: Settings) -> list[Finding]:
    """What is wrong with what crews and the public told: ids that are not on the map, stretches
    beyond a pipe, steps that rise, delays no pipe can make, reports without a place."""
    return [
        *_surveys(inputs),
        *check_step_tests(inputs, settings=settings),
        *_correlations(inputs),
        *_sightings(inputs, settings),
    ]


def check_dates(inputs: Inputs, quality: pd.DataFrame, *, settings: Settings) -> list[Finding]:
    """Rows dated long after the last reading (`quality` table DEVICE_QUALITY): a wrong year."""
    last = quality["last_utc"].dropna().max()
    if pd.isna(last):
        return []
    last = last.tz_convert(settings.zone_info()).tz_localize(None)
    found = []
    for table, column in (
        ("breaks", "date"),
        ("surveys", "date"),
        ("step_tests", "time"),
        ("correlations", "date"),
        ("sightings", "time"),
    ):
        times = getattr(inputs, table)[column]
        if column == "time":
            times = local_times(times, settings).dt.tz_localize(None)
        late = times[times > last + _LATE]
        if len(late):
            found.append(
                Finding(
                    "warning",
                    file_of(inputs, table),
                    _rows(row_names(late)),
                    column,
                    got=f"{late.max():%Y-%m-%d}, and the last reading is of {last:%Y-%m-%d}",
                    expected=f"a {column} no more than a month after it",
                    remedy="Correct the year, or add the readings up to then",
                )
            )
    return found


def _rows(names: Iterable[Any]) -> str:
    ordered = natural(names)
    shown = " and ".join(ordered[:3])
    more = f" and {len(ordered) - 3} more" if len(ordered) > 3 else ""
    return f"{'row' if len(ordered) == 1 else 'rows'} {shown}{more}"


def _surveys(inputs: Inputs) -> list[Finding]:
    surveys, file = inputs.surveys, file_of(inputs, "surveys")
    pipes = file_of(inputs, "pipes")
    unknown = unknown_values(
        surveys["pipe_id"],
        row_names(surveys["date"]),
        known=ids_of(inputs, "pipes"),
        severity="warning",
        source=file,
        noun="row",
        what=f"a pipe_id of {pipes}",
        remedy="Correct the value; until then this survey counts for no pipe",
    )
    length_m = inputs.pipes.drop_duplicates("pipe_id").set_index("pipe_id")["length_m"]
    own_m = surveys["pipe_id"].map(length_m)
    begins_m = surveys[["from_m", "to_m"]].min(axis=1)
    beyond = surveys.index[begins_m >= own_m]
    return [*unknown, *shortened([
        Finding(
            "warning",
            file,
            f"row {row_names(surveys['date'].loc[[row]]).iloc[0]} on {surveys.at[row, 'pipe_id']}",
            "from_m, to_m",
            got=f"a stretch from {brief(begins_m[row])} m on",
            expected=f"one within the pipe's {brief(own_m[row])} m, from its western end",
            remedy="Correct the stretch, or leave both empty if all of the pipe was searched",
        )
        for row in beyond
    ])]  # fmt: skip


def _correlations(inputs: Inputs) -> list[Finding]:
    table, file = inputs.correlations, file_of(inputs, "correlations")
    names = row_names(table["date"])
    known = _known(inputs, _SENSOR_PLACES)
    unknown = [
        finding
        for column in ("first_id", "other_id")
        for finding in unknown_values(
            table[column],
            names,
            known=known,
            severity="warning",
            source=file,
            noun="row",
            what="a valve_id, meter_id, sensor_id or connection_id of the layers",
            remedy="Correct the value; until then this correlation is not counted",
        )
    ]
    speed = table["wave_speed_m_s"].fillna(_SLOWEST_M_S)
    most_ms = 1000 * table["length_m"] / speed
    late = table.index[table["delay_ms"].abs() > most_ms + table["spread_ms"]]
    beyond = [
        Finding(
            "warning",
            file,
            f"row {names[row]}, {table.at[row, 'first_id']} to {table.at[row, 'other_id']}",
            "delay_ms",
            got=f"{table.at[row, 'delay_ms']:g} ms",
            expected=f"at most {brief(most_ms[row])} ms, as sound takes over "
            f"{brief(table.at[row, 'length_m'])} m at {brief(speed[row])} m/s",
            remedy="Correct the delay, the length or the speed; until then it is not counted",
        )
        for row in late
    ]
    same = table.index[table["first_id"].notna() & (table["first_id"] == table["other_id"])]
    alike = [
        Finding(
            "warning",
            file,
            f"row {names[row]}",
            "other_id",
            got=f'"{table.at[row, "other_id"]}", where the first sensor sat too',
            expected="the other end of the stretch",
            remedy="Correct one of the two",
        )
        for row in same
    ]
    return [*unknown, *shortened(beyond), *shortened(alike)]


def _sightings(inputs: Inputs, settings: Settings) -> list[Finding]:
    table, file = inputs.sightings, file_of(inputs, "sightings")
    names = row_names(local_times(table["time"], settings))
    known = _known(inputs, ("pipes", *_SENSOR_PLACES))
    if known is not None:
        known |= set(filled(inputs.connections["building_id"]))
    unknown = unknown_values(
        table["place_id"],
        names,
        known=known,
        severity="warning",
        source=file,
        noun="row",
        what="an id of a pipe, connection, building, valve, meter or sensor of the layers",
        remedy="Correct the value, or give longitude_deg and latitude_deg instead; until then "
        "this report counts for no pipe",
    )
    placed = table[["longitude_deg", "latitude_deg"]].notna().all(axis=1)
    lost = names[~placed & ~names.index.isin(filled(table["place_id"]).index)]
    if lost.empty:
        return unknown
    return [
        *unknown,
        Finding(
            "warning",
            file,
            _rows(lost),
            "place_id",
            got=f"nothing in {plural(len(lost), 'row')}",
            expected="a place_id, or longitude_deg and latitude_deg",
            remedy="Say where it was; until then the report counts for no pipe",
        ),
    ]


def _known(inputs: Inputs, layers: Iterable[str]) -> set[str] | None:
    """The ids of several layers, None where one of them could not be read."""
    ids = [ids_of(inputs, layer) for layer in layers]
    return None if None in ids else set().union(*(i for i in ids if i is not None))
