"""Every part of the devices' records, cleaned where that was not done, and put together.

A part is what a group of devices shows in a third of a month; it is kept under a key of all that
it follows from. Devices read seldom are cleaned by their whole record, and kept by month.
"""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import partial
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd

from district import intake, store
from district.cleaning.keys import Marks, group_of_each, marks_of, seldom_key, third_key
from district.errors import Finding
from district.schema.kept import RATE_DAYS, SPELLS
from district.schema.stored import DEVICE_QUALITY, INTERVALS, SAMPLES
from district.schema.thirds import month_of, third_start_us

Array = np.ndarray[Any, Any]
Devices = Mapping[str, intake.Device]


@dataclass(frozen=True)
class Raw:
    """Raw rows as they are kept, and what was kept of them before."""

    place: Path
    before: store.Manifest | None
    files: tuple[intake.ReadingFile, ...]
    kept: tuple[store.KeptFile, ...]

    def parts(self) -> list[str]:
        """Keys of the files' raw rows."""
        return [f.part for f in self.kept]


@dataclass(frozen=True, eq=False)
class CleanedParts:
    """All that is cleaned and kept, and what it tells."""

    quality: pd.DataFrame
    findings: tuple[Finding, ...]
    parts: tuple[store.KeptPart, ...]
    seldom: dict[str, tuple[store.KeptPart, ...]]
    quality_key: str
    presence_key: str


def cleaned_parts(raw: Raw, devices: Devices) -> CleanedParts:
    """Every part of the devices' records, cleaned where it was not yet.

    Raises `OSError` or `ArrowException` where raw rows are gone or damaged.
    """
    drifting = [p.part for f, p in zip(raw.files, raw.kept, strict=True) if f.kind.clock_gain_s_d]
    presence_key, presence = store.presence_of(raw.place, raw.before, raw.parts())
    lanes = intake.lanes_of(presence, drifting=store.devices_in(raw.place, drifting))
    marks = marks_of(lanes, devices, [f.kind.model_dump_json() for f in raw.files])
    parts = list(_by_third(raw, devices, lanes, marks))
    keys = [p.key for p in parts]
    seldom = dict(_by_record(raw, devices, lanes, marks))
    parts += [p for own in seldom.values() for p in own]
    quality, findings = _put_together(raw.place, [*keys, *seldom], parts, devices)
    quality_key = store.contents_key("quality", quality)
    if store.load_told(raw.place, quality_key) is None:
        store.write_kept(raw.place, quality_key, {DEVICE_QUALITY: quality}, [])
    return CleanedParts(quality, findings, tuple(parts), seldom, quality_key, presence_key)


def _by_third(
    raw: Raw, devices: Devices, lanes: intake.Lanes, marks: Marks
) -> Iterator[store.KeptPart]:
    needed = intake.thirds_needed(lanes)
    names = needed["device_id"].cat.categories if len(needed) else []
    of_name = group_of_each(map(str, names), marks.groups)
    needed = needed.assign(group=of_name[needed["device_id"].cat.codes] if len(needed) else 0)
    pieces = store.pieces_of(raw.place, raw.parts()) if len(needed) else {}
    for (third, group), own in needed.groupby(["third", "group"], sort=True):
        third, group = int(third), int(group)
        earlier = sorted({int(t) for t in own["earlier"].unique() if t >= 0})
        key = third_key(marks, group, third, earlier)
        told = store.load_told(raw.place, key)
        if told is None:
            ids = [str(i) for i in own["device_id"]]
            rows = partial(_rows, raw, marks, group, pieces)
            near = intake.near_third(third)
            cleaned = intake.clean_third(
                rows(near.from_us, near.to_us),
                raw.files,
                {i: devices[i] for i in sorted(ids)},
                third,
                lanes,
                partial(_more, rows, third, own),
            )
            told = _write(raw.place, key, cleaned)
        yield store.KeptPart(group, month_of(third), key, *told["span_us"])


def _rows(
    raw: Raw,
    marks: Marks,
    group: int,
    pieces: store.Pieces,
    from_us: int,
    to_us: int,
    devices: Collection[str] | None = None,
) -> pd.DataFrame:
    """Rows of a group of devices, or of some of it: table RAW with columns `file` and `group`."""
    return store.raw_rows(
        raw.place,
        raw.parts(),
        range(group, store.GROUPS, marks.groups),
        from_us=from_us,
        to_us=to_us,
        devices=devices,
        pieces=pieces,
    )


def _more(
    rows: Callable[..., pd.DataFrame], third: int, own: pd.DataFrame, ids: Sequence[str]
) -> pd.DataFrame:
    """All rows of some devices that a third may need."""
    until = intake.window_of(third).to_us
    parts = [rows(third_start_us(third - intake.LOADED), until, frozenset(ids))]
    gaps = own[(own["earlier"] >= 0) & own["device_id"].isin(ids)]
    for earlier, some in gaps.groupby("earlier"):
        since = third_start_us(int(earlier) - intake.LOADED)
        before = third_start_us(int(earlier) + 1)
        parts.append(rows(since, before, frozenset(some["device_id"].astype(str))))
    if len(parts) == 1:
        return parts[0]
    return pd.concat([p.astype({"device_id": str}) for p in parts], ignore_index=True)


def _by_record(
    raw: Raw, devices: Devices, lanes: intake.Lanes, marks: Marks
) -> Iterator[tuple[str, tuple[store.KeptPart, ...]]]:
    """Key and parts of the devices that are read seldom, group by group."""
    before = raw.before.seldom if raw.before is not None else {}
    ids = lanes.presence.loc[lanes.seldom, "device_id"].astype(str).unique()
    of_id = group_of_each(ids, marks.groups)
    for group in sorted(marks.seldom):
        key = seldom_key(marks, group)
        kept = before.get(key)
        if kept is None or not _there(raw.place, [key, *(p.key for p in kept)]):
            own = {str(i): devices[str(i)] for i in ids[of_id == group]}
            kept = _whole_records(raw, own, group, key, marks.groups)
        yield key, kept


def _whole_records(
    raw: Raw, own: Devices, group: int, key: str, groups: int
) -> tuple[store.KeptPart, ...]:
    frame = pd.DataFrame({"device_id": list(own)})
    holding = set(store.holding(raw.place, raw.parts(), frame))
    at = [n for n, part in enumerate(raw.parts()) if part in holding]
    rows = store.raw_rows(
        raw.place,
        [raw.parts()[n] for n in at],
        range(group, store.GROUPS, groups),
        devices=frozenset(own),
    )
    # By their place among all files.
    rows["file"] = np.array(at, dtype=np.int32)[rows["file"].to_numpy()] if at else 0
    cleaned = intake.clean(rows, raw.files, own)
    kept = []
    for month, intervals, samples in _by_month(cleaned):
        one = store.contents_key(f"{group:02d}-{month}", intervals, samples)
        span = store.span_of(intervals, samples)
        if store.load_told(raw.place, one) is None:
            store.write_kept(raw.place, one, {INTERVALS: intervals, SAMPLES: samples}, {})
        kept.append(store.KeptPart(group, month, one, *span))
    tables = {SPELLS: cleaned.spells, RATE_DAYS: cleaned.days}
    store.write_kept(raw.place, key, tables, {"told": cleaned.told.as_json()})
    return tuple(kept)


def _by_month(cleaned: intake.Cleaned) -> Iterator[tuple[str, pd.DataFrame, pd.DataFrame]]:
    """Intervals by the month they end in, and samples by theirs."""
    ends = cleaned.intervals["end_utc"].dt.strftime("%Y-%m")
    times = cleaned.samples["time_utc"].dt.strftime("%Y-%m")
    for month in sorted({*ends, *times}):
        yield month, cleaned.intervals[ends == month], cleaned.samples[times == month]


def _there(place: Path, keys: Sequence[str]) -> bool:
    return all(store.load_told(place, key) is not None for key in keys)


def _write(place: Path, key: str, cleaned: intake.Cleaned) -> dict[str, Any]:
    span = store.span_of(cleaned.intervals, cleaned.samples)
    told = {"span_us": list(span), "told": cleaned.told.as_json()}
    tables = {
        INTERVALS: cleaned.intervals,
        SAMPLES: cleaned.samples,
        SPELLS: cleaned.spells,
        RATE_DAYS: cleaned.days,
    }
    store.write_kept(place, key, tables, told)
    return told


def _put_together(
    place: Path, keys: Sequence[str], parts: Sequence[store.KeptPart], devices: Devices
) -> tuple[pd.DataFrame, tuple[Finding, ...]]:
    told = intake.joined(intake.told_of(store.load_told(place, key)["told"]) for key in keys)

    def intervals_of(ids: Sequence[str]) -> pd.DataFrame:
        spans = [s for i in ids for s in devices[i].empty]
        touched = {p.key: None for s in spans for p in store.parts_between(parts, s[0], s[1])}
        return store.load_frames(place, list(touched), INTERVALS, devices=ids)

    return intake.put_together(
        store.load_frames(place, keys, SPELLS),
        store.load_frames(place, keys, RATE_DAYS),
        told,
        devices,
        intervals_of,
    )
