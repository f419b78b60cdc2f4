"""Forms that crews filled in, read row by row; what a form held beforehand tells nothing."""

from __future__ import annotations

from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

import pandas as pd

from district.errors import Finding
from district.intake.records import read_rows
from district.intake.sources import find_entries
from district.schema.columns import empty
from district.schema.entry_forms import (
    ENTRIES,
    ENTRY_FORM,
    ENTRY_RECORDS,
    KNOWN_BEFORE,
    SAID_BEFORE,
)
from district.schema.typed import typed
from district.settings import Settings
from district.words import file_name, missing, spelled

NEEDED: dict[str, tuple[str, ...]] = {
    "repair": ("time", "place_id"),
    "nothing_found": ("time", "place_id"),
    "leak_found": ("time", "place_id"),
    "step": ("job_id", "time", "flow_l_s"),
    "correlation": ("time", "place_id", "other_id", "delay_ms"),
    "sighting": ("time",),
    "valve": ("time", "place_id", "state"),
}
"""Cells without which a row tells nothing."""
_BY_CREW = tuple(n for n in ENTRY_FORM.names() if n not in (*KNOWN_BEFORE, "record"))
_LEFT_OUT = "{}; until then the row is left out"
_GUARDED = ("'=", "'+", "'-", "'@", "''")
"""How text that a spreadsheet would run is written into a form."""


@dataclass(frozen=True, eq=False)
class Entries:
    """Table ENTRIES, its files as the user knows them, and what is wrong with them."""

    frame: pd.DataFrame
    files: tuple[str, ...] = ()
    findings: tuple[Finding, ...] = ()


def read_entries(folder: Path, settings: Settings) -> Entries:
    """Every row that a crew filled in, of all forms in order of their files.

    Rows left as they went out are passed over. A value that cannot be read is emptied, and a row
    that then lacks what its record needs is left out, both with a warning that names file and row:
    one slip must not stop a morning. A copy of a row counts once. A file that is no form is an
    error.
    """
    paths, found = find_entries(folder, settings)
    parts = []
    files: list[str] = []
    for path in paths:
        read = _form(path, settings, file=file_name(path, folder))
        parts.append(read.frame)
        files += read.files
        found += read.findings
    if not parts:
        return Entries(empty(ENTRIES), (), tuple(found))
    frame = pd.concat(parts, ignore_index=True)
    cells = frame[list(ENTRY_FORM.names())].astype(str)
    again = cells.duplicated()
    first = cells.groupby(list(cells.columns), dropna=False, sort=False).ngroup()
    origin = frame.groupby(first)[["file", "row"]].transform("first")
    found += [
        Finding(
            "note",
            str(frame.at[n, "file"]),
            f"row {frame.at[n, 'row']:.0f}",
            got=f"the same as row {origin.at[n, 'row']:.0f} of {origin.at[n, 'file']}",
            expected="each observation once",
            remedy="Remove the copy; it counts once",
        )
        for n in frame.index[again]
    ]
    return Entries(frame[~again].reset_index(drop=True), tuple(files), tuple(found))


def _form(path: Path, settings: Settings, *, file: str) -> Entries:
    written: list[pd.DataFrame] = []

    def filled_in(frame: pd.DataFrame) -> pd.DataFrame:
        plain = frame.map(_unguarded)
        written.append(plain[~_as_it_went_out(plain)])
        return written[0]

    read = read_rows(path, ENTRY_FORM, settings, file=file, kept=filled_in)
    findings = [
        replace(f, severity="warning") if f.severity == "error" and f.place else f
        for f in read.findings
    ]
    if not written or any(f.severity == "error" for f in findings):
        return Entries(empty(ENTRIES), (read.file,), tuple(findings))
    frame = read.frame[read.frame["record"].isin(ENTRY_RECORDS)]
    lacking = [
        (row, column)
        for row, cells in zip(frame.index, frame.to_dict("records"), strict=True)
        for column in _lacking(cells)
    ]
    left_out = {(f"row {row}", column) for row, column in lacking}
    findings = [
        replace(f, remedy=_LEFT_OUT.format("Correct the value"))
        if (f.place, f.column) in left_out
        else f
        for f in findings
    ]
    findings += [
        Finding(
            "warning",
            file,
            f"row {row}",
            column,
            got="nothing",
            expected=f"{ENTRY_FORM[column].expectation()}, as the row tells a "
            f"{spelled(frame.at[row, 'record'])}",
            remedy=_LEFT_OUT.format("Fill it in"),
        )
        for row, column in lacking
        if column not in written[0] or missing(written[0].at[row, column])
    ]
    frame = frame.drop(index=list({row for row, _ in lacking}))
    frame = frame.assign(file=read.file, row=frame.index.astype(float))
    return Entries(typed(frame, ENTRIES).reset_index(drop=True), (read.file,), tuple(findings))


def _lacking(cells: dict[Any, Any]) -> list[str]:
    """The columns a row must have filled in and has not."""
    needed = [n for n in NEEDED[cells["record"]] if missing(cells[n])]
    if cells["record"] == "sighting" and missing(cells["place_id"]):
        placed = not (missing(cells["longitude_deg"]) or missing(cells["latitude_deg"]))
        needed += [] if placed else ["place_id"]
    return needed


def _as_it_went_out(frame: pd.DataFrame) -> pd.Series[Any]:
    """Rows without a word of the crew; what was found on a walk only a crew can have said."""
    blank = frame.map(missing).astype(bool)
    untouched = blank[[n for n in _BY_CREW if n in frame]].all(axis=1)
    if "record" in frame:
        said = frame["record"].astype(str).str.strip().str.lower()
        untouched &= blank["record"] | said.isin(SAID_BEFORE)
    return untouched


def _unguarded(value: Any) -> Any:
    return value[1:] if isinstance(value, str) and value.startswith(_GUARDED) else value
