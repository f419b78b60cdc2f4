"""Raw rows as readings in one form: volumes over intervals, samples, and what survived."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Mapping, Sequence
from typing import Any

import numpy as np
import pandas as pd

from district.errors import Finding, worst_first
from district.intake import strays
from district.intake.cleaned import Cleaned, Told, joined
from district.intake.devices import Device
from district.intake.entries import Flow
from district.intake.file_units import in_own_units
from district.intake.flows import flow
from district.intake.grouped import grouped
from district.intake.lanes import Lanes
from district.intake.lost import flagged, missing, silent
from district.intake.parse import ReadingFile
from district.intake.plain import Records, each_any, near_span, records_of
from district.intake.plain_flows import only_plain, plain_tables
from district.intake.rows import Rows, in_order, take, usable_rows
from district.intake.spans import BEFORE, EVER, Span, own_span, shown_in, window_of
from district.intake.spells import spell_of, spells_table
from district.results import Inputs
from district.schema.columns import empty
from district.schema.kept import RATE_DAYS
from district.schema.stored import QUALITIES
from district.schema.thirds import bins_of

_BINS = 60_000
More = Callable[[Sequence[str]], pd.DataFrame]
"""Table RAW, with the column `file`, of some devices."""
Array = np.ndarray[Any, Any]


def clean(
    raw: pd.DataFrame, files: Sequence[ReadingFile], devices: Mapping[str, Device]
) -> Cleaned:
    """Raw rows of some devices, from all files, as readings of the same.

    `raw` is table RAW with a column `file`, the position in `files`.
    """
    listed = list(devices.values())
    rows, disagreed = in_own_units(usable_rows(raw, files, devices), files, listed)
    rows, findings, disorder = in_order(rows, files, listed)
    stray = strays.whole_record(rows)
    findings += strays.told(rows, stray, files, listed)
    rows = take(rows, ~stray)
    told = Told((*disagreed, *findings), disorder=tuple(disorder))
    return _all_told([_cleaned(rows, files, listed, None)], told)


def clean_third(
    raw: pd.DataFrame,
    files: Sequence[ReadingFile],
    devices: Mapping[str, Device],
    third: int,
    lanes: Lanes,
    more: More,
) -> Cleaned:
    """What raw rows of some devices tell of a third: intervals that end, samples that are in it.

    `raw` holds all that stands in `near_third`. Of devices in whose readings there something may
    be amiss, `more` gives all rows that the third may need: as far back as `lanes.LOADED` and
    `lanes.thirds_needed` say. What either holds beyond that does no harm.
    """
    listed, own = list(devices.values()), own_span(third)
    near = near_third(third)
    rows, disagreed = in_own_units(usable_rows(raw, files, devices), files, listed)
    rows = take(rows, near.of(rows.time_us))
    rows, findings, disorder = in_order(rows, files, listed, own)
    stray = _in_stray_bins(rows, listed, lanes)
    findings += strays.told(rows, stray & own.of(rows.time_us), files, listed)
    rows = take(rows, ~stray)
    new, counts = _around(listed, third, lanes)
    records = records_of(rows, listed, own, new=new, around=window_of(third), counts=counts)
    plain = only_plain(records)
    here = set(records.device[each_any(records, records.own)]) - set(plain.device)
    careful = {listed[i].device_id: listed[i] for i in sorted(here)}
    parts = [_plain(plain, listed, files)] if len(plain.device) else []
    if careful or not parts:
        rows = _all_rows(more(list(careful)), files, careful, lanes, third)
        parts.append(_cleaned(rows, files, list(careful.values()), third))
    told = Told((*disagreed, *findings), disorder=tuple(disorder))
    return _all_told(parts, told)


def near_third(third: int) -> Span:
    """What is read of every device to clean a third."""
    return Span(near_span(own_span(third)).from_us, window_of(third).to_us)


def _all_rows(
    raw: pd.DataFrame,
    files: Sequence[ReadingFile],
    devices: Mapping[str, Device],
    lanes: Lanes,
    third: int,
) -> Rows:
    listed = list(devices.values())
    # What there is to say of the rows was told with those of all devices.
    rows, _ = in_own_units(usable_rows(raw, files, devices), files, listed)
    rows, _, _ = in_order(rows, files, listed)
    stray = _in_stray_bins(rows, listed, lanes)
    return take(rows, ~stray & (rows.time_us < window_of(third).to_us))


def _around(devices: Sequence[Device], third: int, lanes: Lanes) -> tuple[Array, Array]:
    """By device: whether a third is the first with readings, and how many its window may hold."""
    names = pd.Index([d.device_id for d in devices])
    at = names.get_indexer(lanes.presence["device_id"].cat.categories)
    of = at[lanes.presence["device_id"].cat.codes]
    bins = lanes.presence["bin"].to_numpy()
    here = (of >= 0) & ~lanes.stray
    new = np.ones(len(names), dtype=bool)
    new[of[here & (bins < 2 * third)]] = False
    here &= (bins >= 2 * (third - BEFORE)) & (bins <= 2 * (third + 1))
    counts = lanes.presence["rows_count"].to_numpy()[here]
    return new, np.bincount(of[here], weights=counts, minlength=len(names)).astype(np.int64)


def _plain(records: Records, devices: Sequence[Device], files: Sequence[ReadingFile]) -> Cleaned:
    intervals, samples, spells = plain_tables(records, devices, files)
    return Cleaned(intervals, samples, spells, empty(RATE_DAYS), Told())


def _all_told(parts: Sequence[Cleaned], told: Told) -> Cleaned:
    tables = {
        name: _one([getattr(p, name) for p in parts])
        for name in ("intervals", "samples", "spells", "days")
    }
    return Cleaned(**tables, told=joined([told, *(p.told for p in parts)]))


def _one(frames: Sequence[pd.DataFrame]) -> pd.DataFrame:
    some = [f for f in frames if len(f)]
    if len(some) < 2:
        return some[0] if some else frames[0]
    ids = sorted({i for f in some for i in _names(f)})
    return pd.concat(
        [
            f.assign(
                **{
                    column: pd.Categorical(f[column], categories=known)
                    for column, known in (("device_id", ids), ("quality", QUALITIES))
                    if column in f
                }
            )
            for f in some
        ],
        ignore_index=True,
    )


def _names(frame: pd.DataFrame) -> list[str]:
    ids = frame["device_id"]
    if isinstance(ids.dtype, pd.CategoricalDtype):
        return list(ids.cat.categories)
    return list(ids.unique())


def _in_stray_bins(rows: Rows, devices: Sequence[Device], lanes: Lanes) -> Array:
    if not lanes.stray.any():
        return np.zeros(len(rows.device), dtype=bool)
    names = pd.Index([d.device_id for d in devices])
    some = lanes.presence[lanes.stray]
    marks = names.get_indexer(some["device_id"].astype(str)) * _BINS + some["bin"].to_numpy()
    return np.isin(rows.device.astype(np.int64) * _BINS + bins_of(rows.time_us), marks)


def _cleaned(
    rows: Rows,
    files: Sequence[ReadingFile],
    devices: Sequence[Device],
    third: int | None,
) -> Cleaned:
    flows: dict[int, Flow] = {}
    told: list[dict[str, Any]] = []
    own = EVER if third is None else own_span(third)
    at_end = np.array([f.kind.stamp == "end" for f in files], dtype=bool)
    edges = np.flatnonzero(np.diff(rows.device)) + 1
    for first, last in zip([0, *edges], [*edges, len(rows.device)], strict=True):
        here = np.arange(first, last)
        mine = here[own.of(rows.time_us[here])]
        if len(mine) == 0:
            continue
        i = int(rows.device[first])
        device, stands = devices[i], None
        if math.isnan(device.scale):
            continue
        if third is not None:
            shown, stands = shown_in(device, rows.time_us[here], rows.value[here], third)
            here, stands = here[shown], stands[shown]
        flows[i] = flow(
            device,
            rows.time_us[here],
            rows.value[here],
            at_end[rows.file[here]],
            rows.rate[here],
            own=own,
            stands=stands,
        )
        told.append(spell_of(device, flows[i], rows.time_us[mine], rows.file[mine], files))
    # A tank's level tells volumes: what ran in and out.
    volumes = {i: devices[i].word == "meter" or devices[i].kind == "tank_level" for i in flows}
    ids = {i: devices[i].device_id for i in flows}
    days = [f.days for f in flows.values() if f.days is not None]
    return Cleaned(
        _intervals({i: f for i, f in flows.items() if volumes[i]}, devices),
        _samples({i: f for i, f in flows.items() if not volumes[i]}, devices),
        spells_table(told),
        pd.concat(days, ignore_index=True) if days else empty(RATE_DAYS),
        Told(
            notes=tuple((ids[i], n) for i, f in flows.items() for n in f.notes),
            tallies=tuple((ids[i], t) for i, f in flows.items() for t in f.tallies),
        ),
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
