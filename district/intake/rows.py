"""Raw rows of some devices in order of device and time, each instant once."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
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
from district.intake.spans import EVER, Span
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
    if at.dtype == bool and at.all():
        return rows  # As nearly always where something is left out: nothing is copied.
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
        at = at[np.argsort(rows.row[at], kind="stable")]
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


Disorder = tuple[str, str, int, int]
"""File, device, in how many places time runs back in it, and in how many on."""


def in_order(
    rows: Rows, files: Sequence[ReadingFile], devices: Sequence[Device], own: Span = EVER
) -> tuple[Rows, list[Finding], list[Disorder]]:
    """Rows by device and time, each instant once; what was out of order or double in a span.

    Where files or rows differ on an instant the later one holds: of the later file in the list,
    of the later row in a file.
    """
    disorder = _backward(rows, files, devices, own)
    rows = take(rows, _order(rows))
    same = (np.diff(rows.device) == 0) & (np.diff(rows.time_us) == 0)
    if not same.any():
        return rows, [], disorder
    findings: list[Finding] = []
    again = np.concatenate([[False], same])
    first = np.maximum.accumulate(np.where(again, 0, np.arange(len(again))))
    differs = again & (rows.value != rows.value[first])
    # Exports may overlap; within a file the same again is worth a word.
    within = rows.file == rows.file[first]
    here = own.of(rows.time_us)
    for chosen, severity, expected, remedy in (
        (
            again & ~differs & within & here,
            "note",
            "each reading once",
            "Nothing need be done; one is used",
        ),
        (
            differs & here,
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
    return take(rows, np.append(~same, True)), findings, disorder


def _order(rows: Rows) -> Array:
    """Positions by device, time, file and row."""
    if len(rows.device) == 0:
        return np.zeros(0, dtype=np.int64)
    since = rows.time_us - rows.time_us.min()
    width = int(since.max()) + 1
    if width * (int(rows.device.max()) + 1) >= 2**63:
        return np.lexsort((rows.row, rows.file, rows.time_us, rows.device))
    # One key is sorted far faster than four, and mostly stands in long runs already.
    mark = rows.device.astype(np.int64) * width + since
    order = np.argsort(mark, kind="stable")
    mark = mark[order]
    alike = np.flatnonzero(np.diff(mark) == 0)
    if len(alike):
        some = np.unique(np.concatenate([alike, alike + 1]))
        at = order[some]
        order[some] = at[np.lexsort((rows.row[at], rows.file[at], mark[some]))]
    return order


def _said(rows: Rows, i: int, first: int, devices: Sequence[Device]) -> str:
    device = devices[rows.device[i]].device_id
    if rows.value[i] == rows.value[first]:
        return f"{device} at the same time again"
    return f"{device} at the same time as {rows.value[i]:.10g} and {rows.value[first]:.10g}"


def _backward(
    rows: Rows, files: Sequence[ReadingFile], devices: Sequence[Device], own: Span
) -> list[Disorder]:
    """Where the readings of a device do not rise in time through a file."""
    mark = rows.file.astype(np.int64) * (len(devices) + 1) + rows.device
    order = np.lexsort((rows.row, mark))
    mark, time = mark[order], rows.time_us[order]
    step = np.diff(time)
    within = (np.diff(mark) == 0) & own.of(time[1:])
    back = within & (step < 0)
    if not back.any():
        return []
    pairs = pd.DataFrame({"mark": mark[1:], "back": back, "on": within & (step > 0)})
    counts = pairs[pairs["mark"].isin(pairs.loc[back, "mark"])].groupby("mark").sum()
    return [
        (
            files[mark // (len(devices) + 1)].name,
            devices[mark % (len(devices) + 1)].device_id,
            int(back),
            int(on),
        )
        for mark, back, on in zip(counts.index, counts["back"], counts["on"], strict=True)
    ]


def disordered(disorder: Iterable[Disorder], devices: Mapping[str, Device]) -> list[Finding]:
    """Devices whose readings neither rise nor fall in time through a file, all parts together."""
    counts: dict[tuple[str, str], tuple[int, int]] = {}
    for file, device_id, back, on in disorder:
        before = counts.get((file, device_id), (0, 0))
        counts[file, device_id] = before[0] + back, before[1] + on
    return [
        Finding(
            "note",
            file,
            f"{devices[device_id].word} {device_id}",
            got=f"times that run backwards in {plural(min(back, on), 'place')}",
            expected="readings in order of time",
            remedy="Nothing need be done; they are put in order",
        )
        for (file, device_id), (back, on) in counts.items()
        if back and on
    ]
