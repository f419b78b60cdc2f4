"""A reading file, long or wide, piece by piece as raw rows: which device, when, what."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from pathlib import Path
from zoneinfo import ZoneInfo

import numpy as np
import pandas as pd

from district.errors import Finding
from district.intake.cell_errors import cell_errors
from district.intake.devices import Device
from district.intake.layouts import TIME, Read, read_long, read_wide, unknown
from district.intake.reading_ids import held
from district.intake.ready import ready
from district.intake.sources import find_readings
from district.intake.tables_in import tables_in
from district.intake.tabular import read_parts
from district.intake.unreadable import NoSheetError, UnreadableError
from district.intake.writing import how_written
from district.results import FileRead
from district.schema.inputs import ALARM_KINDS
from district.settings import FILE, Settings
from district.settings import Readings as Kind
from district.words import file_name, natural_key

Sink = Callable[[pd.DataFrame], None]
"""Takes a piece of table RAW."""


@dataclass(frozen=True)
class ReadingFile:
    """A file of readings, or of several sheets one, and how it is written."""

    path: Path
    name: str
    """As the user knows it."""
    kind: Kind
    clock: str
    """Name of the time zone of its times."""
    units: tuple[tuple[str, str, str, str], ...] = ()
    """What reading it told of units; see `FileRead`."""

    def zone(self) -> ZoneInfo:
        """The clock of its times."""
        return ZoneInfo(self.clock)

    def mark(self) -> str:
        """All but its contents and the devices (see `ids_mark`) that its raw rows depend on."""
        said = self.kind.model_dump_json(exclude={"files", "stamp", "clock_gain_s_d", "clock_set"})
        return f"{self.name}\n{self.clock}\n{said}"


def ids_mark(devices: Mapping[str, Device]) -> str:
    """All of the devices that raw rows depend on."""
    return "\n".join(f"{i} {d.kind in ALARM_KINDS}" for i, d in devices.items())


def reading_list(folder: Path, settings: Settings) -> tuple[list[ReadingFile], list[Finding]]:
    """Every reading file in the order in which a later value takes the place of an earlier one.

    That is the order of [[readings]] in the settings, and within one that of names, numbers in
    them counted as numbers. Of a workbook each sheet with times counts as a file. A pattern
    without files is a finding.
    """
    files: dict[str, ReadingFile] = {}
    findings: list[Finding] = []
    for kind, paths in find_readings(folder, settings):
        if not paths:
            findings.append(_no_file(kind, given=bool(settings.readings)))
        for path in sorted(paths, key=lambda p: (p.parent, natural_key(p.stem), p.name)):
            clock = kind.timezone or settings.district.timezone
            name = file_name(path, folder)
            for one in _sheets(ReadingFile(path, name, kind, clock), findings):
                files.setdefault(one.name, one)
    return list(files.values()), findings


def _sheets(file: ReadingFile, findings: list[Finding]) -> list[ReadingFile]:
    if file.path.suffix.lower() != ".xlsx":
        return [file]
    try:
        tables = tables_in(file.path, sheet=file.kind.sheet)
    except UnreadableError:
        # Reading it says why.
        return [file]
    findings += [_no_table(file.name, sheet) for sheet in tables.passed]
    return [
        replace(
            file,
            name=shape.place(file.name),
            kind=file.kind.model_copy(update={"sheet": shape.sheet}),
        )
        for shape in tables.shapes
    ]


def parse(file: ReadingFile, devices: Mapping[str, Device], sink: Sink) -> FileRead:
    """Read a file to its end, a piece at a time, and give each piece (table RAW) to `sink`.

    Only the ids of `devices` matter here, and which of them may say wet or dry. What is wrong is
    told, not raised.
    """
    position = {device_id: i for i, device_id in enumerate(devices)}
    wet = np.array([d.kind in ALARM_KINDS for d in devices.values()], dtype=bool)
    read = read_wide if file.kind.layout == "wide" else read_long
    known = frozenset(position)
    findings: list[Finding] = []
    strangers: Counter[str] = Counter()
    lines, readings_count, timed, time_column, named = 0, 0, False, "", False
    units: tuple[tuple[str, str, str, str], ...] = ()
    try:
        (shape, *_) = tables_in(file.path, sheet=file.kind.sheet).shapes
        findings += cell_errors(file.path, file.name, sheet=shape.sheet)
        writing = how_written(file.path, shape)
        device = held(shape.sheet, known) or held(file.path.stem, known)
        for frame in read_parts(file.path, shape):
            lines += len(frame)
            made = ready(
                frame,
                file.kind,
                shape=shape,
                writing=writing,
                ids=position,
                source=file.name,
                findings=findings,
            )
            if made is None:
                continue
            frame, units = made.frame, made.units
            if device and _one_device(frame, made.kind):
                frame, named = frame.assign(device_id=device), True
            rows = read(
                frame,
                made.kind,
                file.zone(),
                file.name,
                position,
                wet,
                findings,
                strangers,
                writing=made.writing,
            )
            if rows is None:
                continue
            timed, time_column = timed or rows.timed, rows.time_column
            readings_count += len(rows.row)
            if len(rows.row):
                sink(_raw(rows, list(devices)))
    except NoSheetError as reason:
        findings.append(_no_sheet(file.name, str(reason)))
    except UnreadableError as reason:
        findings.append(_unreadable(file.name, str(reason)))
    else:
        if lines == 0:
            findings.append(_unreadable(file.name, "no readings below the heading"))
    if time_column and not timed:
        findings.append(_no_time(file.name, time_column))
    if position:
        findings += [unknown(i, n, file.name) for i, n in strangers.items()]
    # What each piece of a file says of its headings is the same, and said once.
    return FileRead(tuple(dict.fromkeys(findings)), readings_count, named, units)


def _raw(rows: Read, ids: list[str]) -> pd.DataFrame:
    return pd.DataFrame(
        {
            "device_id": pd.Categorical.from_codes(rows.device, categories=ids),
            "time_utc": pd.DatetimeIndex(rows.time_us.astype("datetime64[us]"), tz="UTC"),
            "later_s": (rows.later_us // 1_000_000).astype(np.int32),
            "value": rows.value,
            "rate": rows.rate,
            "row": rows.row,
        }
    )


def _one_device(frame: pd.DataFrame, kind: Kind) -> bool:
    """Whether a long file says nothing of devices, so that its name must."""
    said = "device_id" in kind.columns or any(c.lower() == "device_id" for c in frame.columns)
    return kind.layout == "long" and not said


def _no_time(file: str, column: str) -> Finding:
    return Finding(
        "error",
        file,
        column=column,
        got="no time that can be read",
        expected=TIME,
        remedy="Write the times as YYYY-MM-DD HH:MM",
    )


def _no_file(kind: Kind, *, given: bool) -> Finding:
    return Finding(
        "error",
        kind.files or FILE,
        got="no reading file",
        expected="the files named in [[readings]] of " + FILE
        if given
        else "CSV, XLSX or Parquet files of readings",
        remedy="Correct the pattern, or put the files there"
        if given
        else f"Put them in readings, or name yours under [[readings]] in {FILE}",
    )


def _no_sheet(file: str, got: str) -> Finding:
    return Finding(
        "error",
        file,
        got=got,
        expected="the sheet named under [[readings]]",
        remedy=f"Correct sheet there in {FILE}, or leave it out to read all sheets",
    )


def _no_table(file: str, sheet: str) -> Finding:
    return Finding(
        "note",
        f"{file}, sheet {sheet}",
        got="no table with times",
        expected="a heading and a row a time",
        remedy="Nothing need be done; the sheet is passed over",
    )


def _unreadable(file: str, got: str) -> Finding:
    return Finding(
        "error",
        file,
        got=got,
        expected="readings: CSV, XLSX or Parquet with a heading and a row a time",
        remedy="Export it again, or remove it",
    )
