"""Raw rows as readings in one form: volumes over intervals, samples, and what survived."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd

from district.errors import Finding, worst_first
from district.intake import strays
from district.intake.devices import Device, read_devices
from district.intake.file_units import in_own_units
from district.intake.flows import Flow, flow
from district.intake.grouped import grouped
from district.intake.lost import flagged, missing, silent
from district.intake.notes import placed
from district.intake.parse import ReadingFile, parse, reading_list
from district.intake.rows import Rows, in_order, take, usable_rows
from district.results import FileRead, Inputs, Readings
from district.schema.columns import empty
from district.schema.stored import DEVICE_QUALITY, QUALITIES, RAW
from district.settings import Settings

Array = np.ndarray[Any, Any]


def read_readings(folder: Path, settings: Settings, inputs: Inputs) -> Readings:
    """Every reading file of the folder as intervals, samples and the quality of each device.

    All in memory and without a store: for a small folder. `inputs` describes the devices. Times
    become UTC, units ours; registers become volumes, through rollover and replacement; what
    cannot be is flagged. Never raises for what is wrong in a file: all of it is in `findings`.
    Rows are in order of device and time.
    """
    devices, findings = read_devices(inputs, timezone=settings.district.timezone)
    files, found = reading_list(folder, settings)
    parts = [empty(RAW).assign(file=0)]
    read: list[FileRead] = []
    for n, file in enumerate(files):
        pieces: list[pd.DataFrame] = []
        read.append(parse(file, devices, pieces.append))
        files[n] = replace(file, units=read[-1].units)
        parts += [piece.assign(file=n) for piece in pieces]
    raw = pd.concat(parts[1:] or parts, ignore_index=True)
    cleaned = clean(raw, files, devices)
    told = [*findings, *found, *(f for r in read for f in r.findings), *cleaned.findings]
    return Readings(
        cleaned.intervals,
        cleaned.samples,
        cleaned.quality,
        all_findings(told, cleaned.quality, devices, inputs),
    )


def clean(
    raw: pd.DataFrame, files: Sequence[ReadingFile], devices: Mapping[str, Device]
) -> Readings:
    """Raw rows of some devices, from all files, as readings of the same.

    `raw` is table RAW with a column `file`, the position in `files`; its rows stand in the order
    of their file. `findings` are those of rows and of single devices, not yet grouped.
    """
    listed = list(devices.values())
    rows, disagreed = in_own_units(usable_rows(raw, files, devices), files, listed)
    rows, findings = in_order(rows, files, listed)
    stray, lost_clocks = strays.told(rows, files, listed)
    rows = take(rows, ~stray)
    flows = _flows(rows, files, listed)
    quality = _quality(flows, rows, files, listed)
    source = dict(zip(quality["device_id"], quality["source"], strict=True))
    for i, f in flows.items():
        findings += placed(f.notes, listed[i], source=source[listed[i].device_id])
    # A tank's level tells volumes: what ran in and out.
    volumes = {i: listed[i].word == "meter" or listed[i].kind == "tank_level" for i in flows}
    return Readings(
        intervals=_intervals({i: f for i, f in flows.items() if volumes[i]}, listed),
        samples=_samples({i: f for i, f in flows.items() if not volumes[i]}, listed),
        quality=quality,
        findings=(*disagreed, *findings, *lost_clocks),
    )


def all_findings(
    told: Iterable[Finding],
    quality: pd.DataFrame,
    devices: Mapping[str, Device],
    inputs: Inputs,
) -> tuple[Finding, ...]:
    """Findings of files, rows and devices put together, and those of the whole record.

    `quality` is table DEVICE_QUALITY of all devices.
    """
    findings = list(told)
    if not any(f.severity == "error" for f in findings):
        # A file that cannot be used says enough; its devices need not be named one by one.
        findings += silent(quality, devices, inputs)
    findings += missing(quality, devices)
    findings += flagged(quality, devices)
    return worst_first(grouped(findings))


def _flows(rows: Rows, files: Sequence[ReadingFile], devices: Sequence[Device]) -> dict[int, Flow]:
    at_end = np.array([f.kind.stamp == "end" for f in files], dtype=bool)
    edges = np.flatnonzero(np.diff(rows.device)) + 1
    flows: dict[int, Flow] = {}
    for first, last in zip([0, *edges], [*edges, len(rows.device)], strict=True):
        if first == last:
            continue
        device = devices[rows.device[first]]
        if not math.isnan(device.scale):
            here = slice(first, last)
            flows[int(rows.device[first])] = flow(
                device,
                rows.time_us[here],
                rows.value[here],
                at_end[rows.file[here]],
                rows.rate[here],
            )
    return flows


def _intervals(flows: Mapping[int, Flow], devices: Sequence[Device]) -> pd.DataFrame:
    return pd.DataFrame(
        {
            "device_id": _ids(flows, devices),
            "start_utc": _times([f.start_us for f in flows.values()]),
            "end_utc": _times([f.end_us for f in flows.values()]),
            "volume_m3": _joined([f.value for f in flows.values()]),
            "quality": _named_quality(flows),
        }
    )


def _samples(flows: Mapping[int, Flow], devices: Sequence[Device]) -> pd.DataFrame:
    return pd.DataFrame(
        {
            "device_id": _ids(flows, devices),
            "time_utc": _times([f.start_us for f in flows.values()]),
            "value": _joined([f.value for f in flows.values()]),
            "quality": _named_quality(flows),
        }
    )


def _ids(flows: Mapping[int, Flow], devices: Sequence[Device]) -> Array:
    names = np.array([devices[i].device_id for i in flows], dtype=object)
    return np.repeat(names, [len(f.value) for f in flows.values()])


def _times(parts: list[Array]) -> pd.DatetimeIndex:
    joined = np.concatenate(parts) if parts else np.empty(0, np.int64)
    return pd.DatetimeIndex(joined.astype("datetime64[us]"), tz="UTC")


def _joined(parts: list[Array]) -> Array:
    return np.concatenate(parts) if parts else np.empty(0)


def _named_quality(flows: Mapping[int, Flow]) -> Array:
    codes = _joined([f.quality for f in flows.values()]).astype(np.int64)
    return np.array(QUALITIES, dtype=object)[codes]


def _source(files: Sequence[ReadingFile], used: Array) -> str:
    """Where a device's readings are: its file, or of several files the pattern."""
    if len(used) == 1:
        return str(files[used[0]].name)
    return " and ".join(sorted({files[n].kind.files for n in used}))


def _quality(
    flows: Mapping[int, Flow], rows: Rows, files: Sequence[ReadingFile], devices: Sequence[Device]
) -> pd.DataFrame:
    first = np.searchsorted(rows.device, list(flows), side="left")
    last = np.searchsorted(rows.device, list(flows), side="right")
    told = []
    for (i, f), start, end in zip(flows.items(), first, last, strict=True):
        counts = np.bincount(f.quality, minlength=len(QUALITIES))
        told.append(
            {
                "device_id": devices[i].device_id,
                "kind": devices[i].kind,
                "source": _source(files, np.unique(rows.file[start:end])),
                "step_h": f.step_h,
                "readings_count": float(end - start),
                "expected_count": float(f.expected_count),
                "missing_count": float(f.missing_count),
                **{f"{q}_count": float(counts[n]) for n, q in enumerate(QUALITIES) if n},
                "missing_share": f.missing_count / f.expected_count
                if f.expected_count
                else math.nan,
                "unusable_share": float((f.quality > 1).mean()) if len(f.quality) else 0.0,
                "resolution_m3": f.resolution_m3,
            }
        )
    table = pd.DataFrame(told, columns=list(DEVICE_QUALITY.names()))
    table["first_utc"] = _times([rows.time_us[first]])
    table["last_utc"] = _times([rows.time_us[last - 1]])
    return table.sort_values("device_id", ignore_index=True)
