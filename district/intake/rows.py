"""Raw rows of some devices in order of device and time, each instant once."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, fields, replace
from typing import Any

import numpy as np
import pandas as pd

from district.errors import Finding
from district.intake.clock import second_round
from district.intake.devices import Device
from district.intake.drift import clock_set_us, corrected, first_of_each
from district.intake.grouped import by_row
from district.intake.parse import ReadingFile
from district.words import plural

Array = np.ndarray[Any, Any]


@dataclass(frozen=True, eq=False)
class Rows:
    """Usable readings; arrays of one length."""

    device: Array
    """Position of the device in the list of devices."""
    time_us: Array
    """Microseconds since 1970, UTC."""
    value: Array
    rate: Array
    """A rate beside a register's total; NaN without."""
    row: Array
    """Row in its file."""
    file: Array
    """Position in the list of files."""


def take(rows: Rows, at: Array) -> Rows:
    """The rows at these positions, or where a mask is true."""
    return Rows(*(getattr(rows, f.name)[at] for f in fields(Rows)))


def usable_rows(
    raw: pd.DataFrame, files: Sequence[ReadingFile], devices: Mapping[str, Device]
) -> Rows:
    """Table RAW with a column `file` (position in `files`) as rows, in the order they stand there.

    Rows of other devices, and rows without value, are left out; hours that come twice are told
    apart.
    """
    position = pd.Index(list(devices))
    device = _positions(raw["device_id"], position)
    here = device >= 0
    time_us = pd.DatetimeIndex(raw["time_utc"]).as_unit("us").asi8
    rows = Rows(
        device,
        time_us,
        raw["value"].to_numpy(dtype=float),
        raw["rate"].to_numpy(dtype=float),
        raw["row"].to_numpy(),
        raw["file"].to_numpy(),
    )
    later_us = raw["later_s"].to_numpy(dtype=np.int64) * 1_000_000
    if later_us.any():
        rows = replace(rows, time_us=time_us + _later(rows, later_us, files))
    if any(f.kind.clock_gain_s_d for f in files):
        rows = replace(rows, time_us=_by_true_clock(rows, files))
    return take(rows, here & ~np.isnan(rows.value))


def _positions(ids: pd.Series[Any], known: pd.Index) -> Array:
    if isinstance(ids.dtype, pd.CategoricalDtype):
        of_category = np.append(known.get_indexer(ids.cat.categories), -1)
        return np.asarray(of_category[ids.cat.codes.to_numpy()], dtype=np.int32)
    return np.asarray(known.get_indexer(ids), dtype=np.int32)


def _later(rows: Rows, later_us: Array, files: Sequence[ReadingFile]) -> Array:
    """What to add to each time that is the second round of its hour."""
    added = np.zeros(len(later_us), dtype=np.int64)
    for n in np.unique(rows.file[later_us != 0]):
        at = np.flatnonzero((rows.file == n) & (rows.device >= 0))
        again = second_round(rows.time_us[at], later_us[at], rows.device[at], zone=files[n].zone())
        added[at[again]] = later_us[at[again]]
    return added


def _by_true_clock(rows: Rows, files: Sequence[ReadingFile]) -> Array:
    """The times, where a file's clock gains put right since it was set or since each first one."""
    time_us = rows.time_us.copy()
    for n in np.unique(rows.file):
        kind = files[n].kind
        if kind.clock_gain_s_d:
            at = np.flatnonzero(rows.file == n)
            since = clock_set_us(kind.clock_set, files[n].zone())
            first = first_of_each(rows.device[at], time_us[at]) if since is None else since
            time_us[at] = corrected(time_us[at], gain_s_d=kind.clock_gain_s_d, from_us=first)
    return time_us


def in_order(
    rows: Rows, files: Sequence[ReadingFile], devices: Sequence[Device]
) -> tuple[Rows, list[Finding]]:
    """Rows by device and time, each instant once; what was out of order or double is told.

    Where files or rows differ on an instant the later one holds: of the later file in the list,
    of the later row in a file.
    """
    findings = _backward(rows, files, devices)
    order = np.lexsort((rows.row, rows.file, rows.time_us, rows.device))
    rows = take(rows, order)
    same = (np.diff(rows.device) == 0) & (np.diff(rows.time_us) == 0)
    if not same.any():
        return rows, findings
    again = np.concatenate([[False], same])
    first = np.maximum.accumulate(np.where(again, 0, np.arange(len(again))))
    differs = again & (rows.value != rows.value[first])
    # Exports may overlap; within a file the same again is worth a word.
    within = rows.file == rows.file[first]
    for chosen, severity, expected, remedy in (
        (
            again & ~differs & within,
            "note",
            "each reading once",
            "Nothing need be done; one is used",
        ),
        (
            differs,
            "warning",
            "one value at a time for each device",
            "Remove the wrong one; the later one is used",
        ),
    ):
        for f in np.unique(rows.file[chosen]):
            at = np.flatnonzero(chosen & (rows.file == f))
            at = at[np.argsort(rows.row[at], kind="stable")]
            findings += by_row(
                "warning" if severity == "warning" else "note",
                files[f].name,
                column="",
                rows=rows.row[at].tolist(),
                got=[_said(rows, int(i), int(first[i]), devices) for i in at],
                expected=expected,
                remedy=remedy,
            )
    return take(rows, np.append(~same, True)), findings


def _said(rows: Rows, i: int, first: int, devices: Sequence[Device]) -> str:
    device = devices[rows.device[i]].device_id
    if rows.value[i] == rows.value[first]:
        return f"{device} at the same time again"
    return f"{device} at the same time as {rows.value[i]:.10g} and {rows.value[first]:.10g}"


def _backward(rows: Rows, files: Sequence[ReadingFile], devices: Sequence[Device]) -> list[Finding]:
    """Devices whose readings neither rise nor fall in time through a file."""
    order = np.lexsort((rows.row, rows.device, rows.file))
    file, device, time = rows.file[order], rows.device[order], rows.time_us[order]
    within = (np.diff(file) == 0) & (np.diff(device) == 0)
    step = np.diff(time)
    if not (within & (step < 0)).any():
        return []
    pairs = pd.DataFrame({"file": file[1:], "device": device[1:], "back": within & (step < 0)})
    counts = pairs.assign(on=within & (step > 0)).groupby(["file", "device"])[["back", "on"]].sum()
    mixed = counts[(counts["back"] > 0) & (counts["on"] > 0)]
    return [
        Finding(
            "note",
            files[f].name,
            f"{devices[d].word} {devices[d].device_id}",
            got=f"times that run backwards in {plural(min(back, on), 'place')}",
            expected="readings in order of time",
            remedy="Nothing need be done; they are put in order",
        )
        for (f, d), back, on in zip(mixed.index, mixed["back"], mixed["on"], strict=True)
    ]
