"""Records without geometry: works, breaks, and what crews and the public saw of a leak."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd

from district.errors import Finding
from district.intake.amount_columns import our_numbers
from district.intake.choices import read_choices
from district.intake.clock import Instants, read_times
from district.intake.columns import defaults_used, named
from district.intake.sources import find_source
from district.intake.tables_in import tables_in
from district.intake.tabular import read_shape
from district.intake.unreadable import NoSheetError, UnreadableError
from district.schema.columns import Table, check, empty
from district.settings import Layer, Settings
from district.words import file_name, missing


@dataclass(frozen=True, eq=False)
class Record:
    """One record table as read, and what was wrong with it."""

    frame: pd.DataFrame
    file: str = ""
    findings: tuple[Finding, ...] = ()
    defaults: tuple[dict[str, Any], ...] = ()


def read_record(folder: Path, table: Table, settings: Settings) -> Record:
    """A record table of the folder in its declared form; without rows if there is no file.

    Times are local and become UTC; works that say no end last to the end of their day.
    """
    source = find_source(folder, table.name, settings)
    if source.path is None:
        return Record(empty(table), findings=source.findings)
    record = read_rows(source.path, table, settings, file=file_name(source.path, folder))
    frame = record.frame
    ends: list[dict[str, Any]] = []
    if "end" in table.names():
        frame, ends = with_ends(frame, settings)
    return replace(
        record,
        frame=frame.reset_index(drop=True),
        findings=(*source.findings, *record.findings),
        defaults=(*record.defaults, *ends),
    )


def read_rows(
    path: Path,
    table: Table,
    settings: Settings,
    *,
    file: str,
    kept: Callable[[pd.DataFrame], pd.DataFrame] | None = None,
) -> Record:
    """One file of a record table in its declared form, indexed by its rows; times become UTC.

    `kept` is asked which of the rows, as written, are of use. `file` is what the user calls it.
    """
    said = settings.records.get(table.name)
    try:
        frame, strange, file = _read(path, file, table, said)
    except UnreadableError as reason:
        sheet = isinstance(reason, NoSheetError)
        unread = Finding(
            "error",
            file,
            got=str(reason),
            expected=f"a table of {table.meaning}",
            remedy=f"Correct sheet under [records.{table.name}]"
            if sheet
            else "Save it again as CSV with a heading, or remove it",
        )
        return Record(empty(table), file, (unread,))
    frame = frame if kept is None else kept(frame)
    frame, notes = our_numbers(frame, table, said.units if said else {}, source=file)
    chosen = read_choices(
        frame,
        table,
        said.values if said else {},
        source=file,
        section=f"records.{table.name}",
        place=lambda row: f"row {row}",
    )
    frame = _utc(chosen.frame, table, settings)
    used = defaults_used(frame, table)
    tidy, wrong = check(table, frame, source=file, told=chosen.told, section="records")
    findings = (*strange, *notes, *chosen.findings, *wrong, *_neither(table, frame, file))
    return Record(tidy, file, findings, tuple(used))


def _neither(table: Table, frame: pd.DataFrame, source: str) -> list[Finding]:
    """Rows in which none of the sets of columns is filled in of which one is needed."""
    sets = [list(names) for names in table.either if set(names) <= set(frame.columns)]
    if not sets:
        return []
    there = ~frame.map(missing).astype(bool)
    some = pd.concat([there[names].all(axis=1) for names in sets], axis=1).any(axis=1)
    usual = table[table.either[0][0]]
    return [
        Finding(
            "error",
            source,
            f"row {row}",
            usual.name,
            got="nothing",
            expected=f"{usual.expectation()}{table.instead(usual.name)}",
            remedy="Correct the value",
        )
        for row in frame.index[~some]
    ]


def _read(
    path: Path, file: str, table: Table, said: Layer | None
) -> tuple[pd.DataFrame, list[Finding], str]:
    """The frame with our names, what is wrong with those, and the file (and sheet) they are of.

    Of several sheets it is the first that has all columns needed, else the first.
    """
    shapes = tables_in(path, sheet=said.sheet if said else "", timed=False).shapes
    read = []
    for shape in shapes:
        place = shape.place(file)
        frame = read_shape(path, shape)
        read.append((*named(frame, table, said.columns if said else {}, source=place), place))
        if not table.lacking(read[-1][0].columns):
            return read[-1]
    return read[0]


def _utc(frame: pd.DataFrame, table: Table, settings: Settings) -> pd.DataFrame:
    frame = frame.copy()
    for column in table.columns:
        if column.name not in frame.columns or column.kind not in ("time", "date"):
            continue
        raw = frame[column.name]
        read = _each(raw, settings)
        times = pd.Series(read.utc, index=frame.index)
        if column.kind == "date":
            times = times.dt.tz_convert(settings.zone_info()).dt.tz_localize(None)
        # What is no time stays as written, for the check to name.
        frame[column.name] = times.astype(object).where(~read.unreadable, raw.astype(object))
    return frame


def _each(raw: pd.Series[Any], settings: Settings) -> Instants:
    # The order of records says nothing of the repeated hour: it is the first round.
    return read_times(raw, zone=settings.zone_info(), skipped="as_before")


def with_ends(works: pd.DataFrame, settings: Settings) -> tuple[pd.DataFrame, list[dict[str, Any]]]:
    """The works with the end of the same local day where they say none, and that it was used."""
    missing = works["end"].isna() & works["start"].notna()
    if not missing.any():
        return works, []
    days = works.loc[missing, "start"].dt.tz_convert(settings.zone_info()).dt.tz_localize(None)
    midnight = days.dt.normalize() + np.timedelta64(1, "D")
    ends = pd.Series(_each(midnight, settings).utc, index=midnight.index)
    filled = works.assign(end=works["end"].where(~missing, ends))
    used = {
        "table": "works",
        "column": "end",
        "rows_count": int(missing.sum()),
        "value": "the end of the same day",
    }
    return filled, [used]
