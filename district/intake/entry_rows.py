"""What crews brought back as rows of the records it belongs to: works, surveys and others."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import replace
from typing import Any

import pandas as pd

from district.errors import Finding
from district.intake.records import with_ends
from district.results import Inputs
from district.schema.columns import Table
from district.schema.entry_forms import ENTRIES
from district.schema.field_records import CORRELATIONS, SIGHTINGS, STEP_TESTS, SURVEYS
from district.schema.inputs import WORKS
from district.settings import Settings
from district.words import missing

_MARK_M = 10.0
"""A leak marked at one distance is taken this near, either way: no spot of the search is farther
from the next. Assumption."""
_SAME: dict[str, tuple[str, ...]] = {
    "works": ("day", "kind", "place_id"),
    "surveys": ("date", "pipe_id", "method", "found", "from_m", "to_m"),
    "step_tests": ("test_id", "time", "valve_id"),
    "correlations": ("date", "first_id", "other_id", "delay_ms"),
    "sightings": ("time", "place_id", "what", "longitude_deg", "latitude_deg"),
}
"""Columns in which two rows of a record agree if they tell the same."""
_TABLES = (WORKS, SURVEYS, STEP_TESTS, CORRELATIONS, SIGHTINGS)
Rows = dict[str, pd.DataFrame]


def rows_of(entries: pd.DataFrame, settings: Settings) -> Rows:
    """The rows of each record (tables of `schema.inputs`) that table ENTRIES makes.

    The index is that of the entries. Rows about valves make none. A repair is a work; `end` is that
    of its day if empty.
    """
    made: Rows = {}
    for table in _TABLES:
        kinds, columns = _MADE[table.name]
        own = entries[entries["record"].isin(kinds)]
        frame = pd.DataFrame(columns(own, settings), index=own.index)
        if table is WORKS:
            frame = with_ends(frame, settings)[0]
        made[table.name] = frame.reindex(columns=list(table.names()))
    return made


def each_form(inputs: Inputs, settings: Settings) -> Iterator[Inputs]:
    """For each form the inputs with its rows alone for records, named by its file, to be checked
    like records of their own."""
    for file, entries in inputs.entries.groupby("file", sort=True):
        rows = {
            name: rows.reset_index(drop=True) for name, rows in rows_of(entries, settings).items()
        }
        files = {**inputs.files, **dict.fromkeys((*rows, ENTRIES.name), str(file))}
        none = inputs.breaks.iloc[:0]
        yield replace(inputs, **rows, breaks=none, entries=entries, files=files, findings=())


def with_entries(inputs: Inputs, settings: Settings) -> tuple[Inputs, tuple[Finding, ...]]:
    """The inputs with what crews brought back among their records, and what was there before.

    A row that a record holds already (a repair by kind, place and local day, the others by what
    they tell) is told and not added; it stays among `entries`.
    """
    if inputs.entries.empty:
        return inputs, ()
    made = rows_of(inputs.entries, settings)
    told: list[Finding] = []
    records: dict[str, pd.DataFrame] = {}
    files = dict(inputs.files)
    for table in _TABLES:
        before, rows = getattr(inputs, table.name), made[table.name]
        known = _known(table, rows, before, settings)
        told += _told(table, inputs, rows[known])
        rows = rows[~known]
        if rows.empty:
            continue
        parts = [part for part in (before, rows) if len(part)]
        records[table.name] = pd.concat(parts, ignore_index=True)
        own = sorted(set(inputs.entries.loc[rows.index, "file"]))
        files[table.name] = ", ".join([*([files[table.name]] if table.name in files else []), *own])
    return replace(inputs, **records, files=files), tuple(told)


def _known(
    table: Table, rows: pd.DataFrame, before: pd.DataFrame, settings: Settings
) -> pd.Series[Any]:
    """Which rows tell what a record tells already."""
    there = set(_keys(table, before, settings))
    return pd.Series([key in there for key in _keys(table, rows, settings)], rows.index, dtype=bool)


def _keys(table: Table, rows: pd.DataFrame, settings: Settings) -> list[tuple[str, ...]]:
    frame = rows.assign(day=_days(rows["start"], settings)) if table is WORKS else rows
    cells = frame[list(_SAME[table.name])].to_dict("records")
    return [tuple("" if missing(v) else str(v) for v in row.values()) for row in cells]


def _told(table: Table, inputs: Inputs, rows: pd.DataFrame) -> list[Finding]:
    where = inputs.entries.loc[rows.index]
    return [
        Finding(
            "note",
            str(file),
            f"row {row:.0f}",
            got=f"what a row of {inputs.files.get(table.name, table.name)} tells already",
            expected="each observation once",
            remedy="Remove one of the two; it counts once",
        )
        for file, row in zip(where["file"], where["row"], strict=True)
    ]


def _days(times: pd.Series[Any], settings: Settings) -> pd.Series[Any]:
    """Local dates of instants."""
    local = pd.to_datetime(times, utc=True).dt.tz_convert(settings.zone_info())
    return local.dt.tz_localize(None).dt.normalize()


def _notes(own: pd.DataFrame) -> list[str]:
    jobs = [f"job {job}" if job else "" for job in own["job_id"]]
    return [", ".join(filter(None, both)) for both in zip(jobs, own["note"], strict=True)]


def _or(values: pd.Series[Any], default: str) -> pd.Series[Any]:
    return values.where(values != "", default)


def _works(own: pd.DataFrame, settings: Settings) -> dict[str, Any]:
    del settings
    return {
        "start": own["time"],
        "end": own["end"],
        "kind": "repair",
        "place_id": own["place_id"],
        "note": _notes(own),
    }


def _surveys(own: pd.DataFrame, settings: Settings) -> dict[str, Any]:
    found = own["record"] == "leak_found"
    only = own["from_m"].fillna(own["to_m"])
    marked = found & only.notna() & (own["to_m"].fillna(only) == only)
    return {
        "date": _days(own["time"], settings),
        "pipe_id": own["place_id"],
        "method": _or(own["method"], str(SURVEYS["method"].default)),
        "found": found,
        "from_m": own["from_m"].where(~marked, (only - _MARK_M).clip(lower=0.0)),
        "to_m": own["to_m"].where(~marked, only + _MARK_M),
        "note": _notes(own),
    }


def _steps(own: pd.DataFrame, settings: Settings) -> dict[str, Any]:
    del settings
    valve = own["place_id"].where(own["place_id"] != "", None)
    return {
        "test_id": own["job_id"],
        "time": own["time"],
        "valve_id": valve,
        "flow_l_s": own["flow_l_s"],
    }


def _correlations(own: pd.DataFrame, settings: Settings) -> dict[str, Any]:
    return {
        "date": _days(own["time"], settings),
        "first_id": own["place_id"],
        "other_id": own["other_id"],
        "delay_ms": own["delay_ms"],
        "spread_ms": CORRELATIONS["spread_ms"].default,
        "length_m": own["length_m"],
        "note": _notes(own),
    }


def _sightings(own: pd.DataFrame, settings: Settings) -> dict[str, Any]:
    del settings
    return {
        "time": own["time"],
        "place_id": own["place_id"].where(own["place_id"] != "", None),
        "longitude_deg": own["longitude_deg"],
        "latitude_deg": own["latitude_deg"],
        "what": _or(own["what"], str(SIGHTINGS["what"].default)),
        "note": _notes(own),
    }


_MADE: dict[str, tuple[tuple[str, ...], Callable[[pd.DataFrame, Settings], dict[str, Any]]]] = {
    WORKS.name: (("repair",), _works),
    SURVEYS.name: (("nothing_found", "leak_found"), _surveys),
    STEP_TESTS.name: (("step",), _steps),
    CORRELATIONS.name: (("correlation",), _correlations),
    SIGHTINGS.name: (("sighting",), _sightings),
}
