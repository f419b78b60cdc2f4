"""All readings of a folder in one form."""

from __future__ import annotations

import math
from collections.abc import Mapping
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd

from district.errors import Finding, worst_first
from district.intake import strays
from district.intake.devices import Device, read_devices
from district.intake.flows import Flow, flow
from district.intake.gather import Rows, gather
from district.intake.grouped import by_row, grouped
from district.intake.lost import flagged, missing, silent
from district.intake.sources import find_readings
from district.results import Inputs, Readings
from district.schema.stored import DEVICE_QUALITY, QUALITIES
from district.settings import Settings
from district.words import file_name, plural

Array = np.ndarray[Any, Any]


def read_readings(folder: Path, settings: Settings, inputs: Inputs) -> Readings:
    """Every reading file of the folder as intervals, samples and the quality of each device.

    `inputs` describes the devices. Times become UTC, units ours; registers become volumes,
    through rollover and replacement; what cannot be is flagged. Never raises for what is wrong
    in a file: all of it is in `findings`. Rows are in order of device and time.
    """
    devices, findings = read_devices(inputs)
    rows, files, found = gather(folder, settings, devices)
    findings += found
    listed = list(devices.values())
    rows, repeated = _in_order(rows, files, listed)
    findings += repeated
    stray, lost_clocks = strays.told(rows, files, listed)
    rows = _take(rows, np.flatnonzero(~stray))
    findings += lost_clocks
    flows = _flows(rows, listed)
    if not any(f.severity == "error" for f in found):
        # A file that cannot be used says enough; its devices need not be named one by one.
        findings += silent(set(np.unique(rows.device).tolist()), listed, inputs)
    sources = _sources(flows, rows, files, _patterns(folder, settings))
    findings += missing(flows, listed, sources)
    findings += flagged(flows, listed, sources)
    meters = {i: f for i, f in flows.items() if listed[i].word == "meter"}
    sensors = {i: f for i, f in flows.items() if listed[i].word == "sensor"}
    return Readings(
        intervals=_intervals(meters, listed),
        samples=_samples(sensors, listed),
        quality=_quality(flows, rows, listed, sources),
        findings=worst_first(grouped(findings)),
    )


def _in_order(rows: Rows, files: list[str], devices: list[Device]) -> tuple[Rows, list[Finding]]:
    """Rows by device and time, each instant once; what was out of order or double is told."""
    findings = _backward(rows, files, devices)
    order = np.lexsort((rows.time_us, rows.device))
    rows = _take(rows, order)
    same = (np.diff(rows.device) == 0) & (np.diff(rows.time_us) == 0)
    again = np.concatenate([[False], same]) if len(rows.row) else np.empty(0, bool)
    if not again.any():
        return rows, findings
    first = np.maximum.accumulate(np.where(again, 0, np.arange(len(again))))
    differs = again & (rows.value != rows.value[first])
    for chosen, severity, expected, remedy in (
        (again & ~differs, "note", "each reading once", "Nothing need be done; one is used"),
        (
            differs,
            "warning",
            "one value at a time for each device",
            "Remove the wrong one; the first is used",
        ),
    ):
        for f in np.unique(rows.file[chosen]):
            at = np.flatnonzero(chosen & (rows.file == f))
            findings += by_row(
                "warning" if severity == "warning" else "note",
                files[f],
                column="",
                rows=[int(r) for r in rows.row[at]],
                got=[_said(rows, int(i), int(first[i]), devices) for i in at],
                expected=expected,
                remedy=remedy,
            )
    return _take(rows, np.flatnonzero(~again)), findings


def _said(rows: Rows, i: int, first: int, devices: list[Device]) -> str:
    device = devices[rows.device[i]].device_id
    if rows.value[i] == rows.value[first]:
        return f"{device} at the same time again"
    return f"{device} at the same time as {rows.value[i]:.10g} and {rows.value[first]:.10g}"


def _backward(rows: Rows, files: list[str], devices: list[Device]) -> list[Finding]:
    """Devices whose readings neither rise nor fall in time through a file."""
    order = np.lexsort((np.arange(len(rows.row)), rows.device, rows.file))
    file, device, time = rows.file[order], rows.device[order], rows.time_us[order]
    within = (np.diff(file) == 0) & (np.diff(device) == 0)
    step = np.diff(time)
    pairs = pd.DataFrame({"file": file[1:], "device": device[1:], "back": within & (step < 0)})
    counts = pairs.assign(on=within & (step > 0)).groupby(["file", "device"])[["back", "on"]].sum()
    mixed = counts[(counts["back"] > 0) & (counts["on"] > 0)]
    return [
        Finding(
            "note",
            files[f],
            f"{devices[d].word} {devices[d].device_id}",
            got=f"times that run backwards in {plural(min(back, on), 'place')}",
            expected="readings in order of time",
            remedy="Nothing need be done; they are put in order",
        )
        for (f, d), back, on in zip(mixed.index, mixed["back"], mixed["on"], strict=True)
    ]


def _flows(rows: Rows, devices: list[Device]) -> dict[int, Flow]:
    edges = np.flatnonzero(np.diff(rows.device)) + 1
    flows: dict[int, Flow] = {}
    for part in np.split(np.arange(len(rows.device)), edges):
        if len(part) == 0:
            continue
        device = devices[rows.device[part[0]]]
        if not math.isnan(device.scale):
            here = slice(part[0], part[-1] + 1)
            flows[int(rows.device[part[0]])] = flow(
                device, rows.time_us[here], rows.value[here], rows.at_end[here]
            )
    return flows


def _intervals(flows: Mapping[int, Flow], devices: list[Device]) -> pd.DataFrame:
    return pd.DataFrame(
        {
            "device_id": _ids(flows, devices),
            "start_utc": _times([f.start_us for f in flows.values()]),
            "end_utc": _times([f.end_us for f in flows.values()]),
            "volume_m3": _joined([f.value for f in flows.values()]),
            "quality": _named_quality(flows),
        }
    )


def _samples(flows: Mapping[int, Flow], devices: list[Device]) -> pd.DataFrame:
    return pd.DataFrame(
        {
            "device_id": _ids(flows, devices),
            "time_utc": _times([f.start_us for f in flows.values()]),
            "value": _joined([f.value for f in flows.values()]),
            "quality": _named_quality(flows),
        }
    )


def _ids(flows: Mapping[int, Flow], devices: list[Device]) -> Array:
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


def _patterns(folder: Path, settings: Settings) -> dict[str, str]:
    """The pattern of the settings that each reading file was found by."""
    return {
        file_name(path, folder): kind.files
        for kind, paths in find_readings(folder, settings)
        for path in paths
    }


def _sources(
    flows: Mapping[int, Flow], rows: Rows, files: list[str], patterns: Mapping[str, str]
) -> dict[int, str]:
    """Where each device's readings are: its file, or of several files the pattern."""
    named: dict[int, str] = {}
    for i in flows:
        here = slice(*np.searchsorted(rows.device, [i, i + 1]))
        own = [files[f] for f in np.unique(rows.file[here])]
        wider = sorted({patterns.get(name, name) for name in own})
        named[i] = own[0] if len(own) == 1 else " and ".join(wider)
    return named


def _quality(
    flows: Mapping[int, Flow], rows: Rows, devices: list[Device], sources: Mapping[int, str]
) -> pd.DataFrame:
    counts = np.bincount(rows.device, minlength=len(devices))
    told = [
        {
            "device_id": devices[i].device_id,
            "kind": devices[i].kind,
            "source": sources[i],
            "step_h": f.step_h,
            "readings_count": float(counts[i]),
            "missing_share": f.missing_count / f.expected_count if f.expected_count else math.nan,
            "unusable_share": float((f.quality > 1).mean()) if len(f.quality) else 0.0,
            "resolution_m3": f.resolution_m3,
        }
        for i, f in flows.items()
    ]
    table = pd.DataFrame(told, columns=list(DEVICE_QUALITY.names()))
    first = np.searchsorted(rows.device, list(flows), side="left")
    last = np.searchsorted(rows.device, list(flows), side="right") - 1
    table["first_utc"] = _times([rows.time_us[first]])
    table["last_utc"] = _times([rows.time_us[last]])
    return table.sort_values("device_id", ignore_index=True)


def _take(rows: Rows, at: Array) -> Rows:
    return Rows(
        rows.device[at],
        rows.time_us[at],
        rows.value[at],
        rows.row[at],
        rows.file[at],
        rows.at_end[at],
    )
