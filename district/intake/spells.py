"""Device by device what a part of a record held, and the parts put together again."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from typing import Any

import numpy as np
import pandas as pd

from district.intake.devices import Device
from district.intake.entries import Flow
from district.intake.parse import ReadingFile
from district.schema.kept import SPELLS
from district.schema.stored import DEVICE_QUALITY, QUALITIES

_HOUR_US = 3_600_000_000
_FLAWS = [f"{q}_count" for q in QUALITIES[1:]]
_SUMS = [
    "readings_count", "expected_count", "missing_count", "entries_count", *_FLAWS, "moved_count",
    "falls_count", "steps_count", "known_m3", "known_h",
]  # fmt: skip
_UNUSABLE = [f for f in _FLAWS if f != "gap_count"]
Array = np.ndarray[Any, Any]


def spell_of(
    device: Device, found: Flow, time_us: Array, used: Array, files: Sequence[ReadingFile]
) -> dict[str, Any]:
    """A row of table SPELLS: `found`, and times and files (positions) of the readings in it."""
    counts = np.bincount(found.quality, minlength=len(QUALITIES))
    known = np.isfinite(found.value) & (device.word == "meter")
    walk = found.walk
    file, pattern = source_of(files, np.unique(used))
    return {
        "device_id": device.device_id,
        "kind": device.kind,
        "file": file,
        "pattern": pattern,
        "first_us": int(time_us[0]),
        "last_us": int(time_us[-1]),
        "step_h": found.step_h,
        "steps_count": found.steps_count,
        "readings_count": len(time_us),
        "expected_count": found.expected_count,
        "missing_count": found.missing_count,
        "entries_count": len(found.quality),
        **{f"{q}_count": int(counts[n]) for n, q in enumerate(QUALITIES) if n},
        "resolution_m3": found.resolution_m3,
        "moved_count": found.moves.moved_count,
        "falls_count": found.moves.falls_count,
        "broken": found.moves.broken,
        "meant_s": walk.meant_s if walk else math.nan,
        "near_count": walk.near_count if walk else 0,
        "off_s": walk.off_s if walk else 0.0,
        "later_count": walk.later_count if walk else 0,
        "sooner_count": walk.sooner_count if walk else 0,
        "known_m3": float(found.value[known].sum()),
        "known_h": float((found.end_us - found.start_us)[known].sum()) / _HOUR_US,
    }


def source_of(files: Sequence[ReadingFile], used: Array) -> tuple[str, str]:
    """The one file of these positions ('' if they are several), and all their patterns."""
    patterns = sorted({files[n].kind.files for n in used})
    return files[used[0]].name if len(used) == 1 else "", " and ".join(patterns)


def spells_frame(columns: Mapping[str, Any]) -> pd.DataFrame:
    """Table SPELLS of its columns, with first_us and last_us for its times; 0 where not given."""
    frame = pd.DataFrame(dict(columns))
    for end in ("first", "last"):
        times = frame[f"{end}_us"].to_numpy(dtype=np.int64).astype("datetime64[us]")
        frame[f"{end}_utc"] = pd.DatetimeIndex(times, tz="UTC")
    frame = frame.reindex(columns=list(SPELLS.names()), fill_value=0.0)
    numbers = {c.name: float for c in SPELLS.columns if c.kind in ("whole", "real")}
    return frame.astype(numbers)


def spells_table(rows: Sequence[Mapping[str, Any]]) -> pd.DataFrame:
    """Rows of `spell_of` as table SPELLS."""
    columns = [*SPELLS.names(), "first_us", "last_us"]
    frame = pd.DataFrame(rows, columns=[c for c in columns if not c.endswith("_utc")])
    return spells_frame({str(c): frame[c] for c in frame})


def whole_records(spells: pd.DataFrame) -> pd.DataFrame:
    """Table SPELLS of all parts, in order of time, with each device once.

    Counts are added up; the usual step is the one of most intervals, the resolution the finest.
    A column `source` says where its readings are: a file, or of several files the patterns.
    """
    if spells.empty:
        return spells.assign(source="")
    by_device = spells.groupby("device_id", observed=True, sort=True)
    frame = by_device[_SUMS].sum()
    frame["kind"] = by_device["kind"].first()
    frame["first_utc"], frame["last_utc"] = (
        by_device["first_utc"].min(),
        by_device["last_utc"].max(),
    )
    frame["resolution_m3"] = by_device["resolution_m3"].min()
    frame["broken"] = by_device["broken"].first()
    frame["step_h"] = _usual_step(spells)
    walk = ["near_count", "off_s", "later_count", "sooner_count"]
    said = [*walk, "steps_count"]
    some = spells.loc[spells["meant_s"].notna(), ["device_id", "meant_s", *said]]
    of_step = some.groupby(["device_id", "meant_s"], observed=True)[said].sum()
    of_step = of_step.reset_index("meant_s").sort_values("steps_count", kind="stable")
    most = of_step.groupby(level=0, observed=True).last()
    frame = frame.join(most[["meant_s", *walk]])
    frame["source"] = _sources(spells)
    frame.index = frame.index.astype(object)
    return frame.reset_index()


def quality_of(records: pd.DataFrame) -> pd.DataFrame:
    """Table DEVICE_QUALITY of what `whole_records` put together."""
    frame = records.copy()
    expected = frame["expected_count"].where(frame["expected_count"] > 0)
    frame["missing_share"] = frame["missing_count"] / expected
    entries = frame["entries_count"].where(frame["entries_count"] > 0)
    frame["unusable_share"] = (frame[_UNUSABLE].sum(axis=1) / entries).fillna(0.0)
    frame = frame[list(DEVICE_QUALITY.names())].sort_values("device_id", ignore_index=True)
    return frame.astype({"first_utc": "datetime64[us, UTC]", "last_utc": "datetime64[us, UTC]"})


def _usual_step(spells: pd.DataFrame) -> pd.Series[Any]:
    """The median of the parts' usual steps, each weighed by its number of intervals."""
    some = spells.loc[spells["steps_count"] > 0, ["device_id", "step_h", "steps_count"]]
    some = some.sort_values(["device_id", "step_h"], kind="stable")
    by_device = some.groupby("device_id", observed=True)["steps_count"]
    half = by_device.transform("sum") / 2.0
    reached = some[by_device.cumsum() >= half]
    return reached.groupby("device_id", observed=True)["step_h"].first()


def _sources(spells: pd.DataFrame) -> pd.Series[Any]:
    each = spells[["device_id", "file", "pattern"]].astype({"file": str, "pattern": str})
    each = each.drop_duplicates()
    by_device = each.groupby("device_id", observed=True)
    first, many = by_device[["file", "pattern"]].first(), by_device.size() > 1
    alone = ~many & (first["file"] != "")
    pattern = first["pattern"].where(~many | (by_device["pattern"].nunique() == 1))
    for device_id in pattern.index[pattern.isna()]:
        said = each.loc[each["device_id"] == device_id, "pattern"]
        pattern[device_id] = " and ".join(sorted({p for s in said for p in s.split(" and ")}))
    return first["file"].where(alone, pattern)
