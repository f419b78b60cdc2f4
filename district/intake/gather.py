"""Reading files, long or wide, as one set of rows: which device, when, what."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, fields
from pathlib import Path
from typing import Any
from zoneinfo import ZoneInfo

import numpy as np
import pandas as pd

from district.errors import Finding
from district.intake.devices import Device
from district.intake.layouts import read_long, read_wide
from district.intake.sources import find_readings
from district.intake.tabular import UnreadableError, read_table
from district.settings import FILE, Settings
from district.settings import Readings as Kind
from district.words import file_name

Array = np.ndarray[Any, Any]


@dataclass(frozen=True, eq=False)
class Rows:
    """Usable readings in file order; arrays of one length."""

    device: Array
    """Position of the device in the list of devices."""
    time_us: Array
    """Microseconds since 1970, UTC."""
    value: Array
    row: Array
    """Row in its file."""
    file: Array
    """Position in the list of files."""
    at_end: Array
    """Whether the stamp is the end of its interval."""


def gather(
    folder: Path, settings: Settings, devices: Mapping[str, Device]
) -> tuple[Rows, list[str], list[Finding]]:
    """All usable readings of the folder, the files they stand in, and what is wrong in those."""
    findings: list[Finding] = []
    files: list[str] = []
    parts: list[Rows] = []
    position = {device_id: i for i, device_id in enumerate(devices)}
    wet = np.array([d.kind == "wet_floor" for d in devices.values()], dtype=bool)
    for kind, paths in find_readings(folder, settings):
        if not paths:
            findings.append(_no_file(kind, given=bool(settings.readings)))
        for path in paths:
            name = file_name(path, folder)
            files.append(name)
            try:
                frame = read_table(path)
            except UnreadableError as reason:
                findings.append(_unreadable(name, str(reason)))
                continue
            if frame.empty:
                findings.append(_unreadable(name, "no readings below the heading"))
                continue
            if _one_device(frame, kind) and path.stem in position:
                frame = frame.assign(device_id=path.stem)
            zone = ZoneInfo(kind.timezone) if kind.timezone else settings.zone_info()
            read = read_wide if kind.layout == "wide" else read_long
            rows = read(frame, kind, zone, name, position, wet, findings)
            if rows is not None:
                device, time_us, value, row = rows
                file = np.full(len(row), len(files) - 1, dtype=np.int32)
                at_end = np.full(len(row), kind.stamp == "end")
                parts.append(Rows(device, time_us, value, row, file, at_end))
    return _joined(parts), files, findings


def _one_device(frame: pd.DataFrame, kind: Kind) -> bool:
    """Whether a long file says nothing of devices, so that its name must."""
    said = "device_id" in kind.columns or any(c.lower() == "device_id" for c in frame.columns)
    return kind.layout == "long" and not said


def _joined(parts: list[Rows]) -> Rows:
    names = [f.name for f in fields(Rows)]
    if parts:
        return Rows(*(np.concatenate([getattr(p, n) for p in parts]) for n in names))
    whole, real = np.empty(0, np.int64), np.empty(0)
    return Rows(whole, whole, real, whole, whole, np.empty(0, bool))


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


def _unreadable(file: str, got: str) -> Finding:
    return Finding(
        "error",
        file,
        got=got,
        expected="readings: CSV, XLSX or Parquet with a heading and a row a time",
        remedy="Export it again, or remove it",
    )
