from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd
import pytest

from district.errors import Finding
from district.results import Readings
from district.schema.columns import empty
from district.schema.stored import DEVICE_QUALITY, INTERVALS, SAMPLES
from district.schema.thirds import bins_of, month_of
from district.store import (
    KeptPart,
    Manifest,
    contents_key,
    group_of,
    span_of,
    write_kept,
    write_manifest,
)


def intervals(device_id: str, start: str, volumes: Any, minutes: int = 60) -> pd.DataFrame:
    """Sound intervals one after the other from `start`, UTC."""
    starts = pd.date_range(start, periods=len(volumes), freq=f"{minutes}min", tz="UTC", unit="us")
    return pd.DataFrame(
        {
            "device_id": device_id,
            "start_utc": starts,
            "end_utc": starts + pd.Timedelta(minutes=minutes),
            "volume_m3": np.asarray(volumes, dtype=float),
            "quality": "ok",
        }
    )


def samples(device_id: str, times: Any, values: Any) -> pd.DataFrame:
    """Sound samples at the given instants, UTC."""
    return pd.DataFrame(
        {
            "device_id": device_id,
            "time_utc": pd.DatetimeIndex(times, tz="UTC").as_unit("us"),
            "value": np.asarray(values, dtype=float),
            "quality": "ok",
        }
    )


def quality(*rows: dict[str, Any]) -> pd.DataFrame:
    """Table DEVICE_QUALITY of what is given of each device."""
    frame = pd.DataFrame(rows, columns=list(DEVICE_QUALITY.names()))
    return frame.astype(dict.fromkeys(("first_utc", "last_utc"), "datetime64[us, UTC]"))


def save(place: Path, readings: Readings) -> None:
    """Keep readings at a place as one part."""
    key = contents_key("00-660", readings.intervals, readings.samples, readings.quality)
    tables = {INTERVALS: readings.intervals, SAMPLES: readings.samples}
    write_kept(place, key, tables | {DEVICE_QUALITY: readings.quality}, {})
    span = span_of(readings.intervals, readings.samples)
    part = KeptPart(0, "2025-01", key, *span)
    write_manifest(place, Manifest("mark", (), (part,), readings.findings, quality=key))


def save_parts(place: Path, tables: list[pd.DataFrame], told: pd.DataFrame) -> None:
    """Keep readings at a place by group of devices and third of a month, as `take_in` does."""
    named = [t.assign(group=t["device_id"].map(group_of), third=_third(t)) for t in tables]
    flows, seen = (
        pd.concat([t for t in named if column in t]) for column in ("volume_m3", "value")
    )
    parts = []
    keys = {key for t in (flows, seen) for key in zip(t["group"], t["third"], strict=True)}
    for group, third in sorted(keys):
        of_part = [
            t[(t["group"] == group) & (t["third"] == third)]
            .drop(columns=["group", "third"])
            .sort_values(["device_id", t.columns[1]], ignore_index=True)
            for t in (flows, seen)
        ]
        key = contents_key(f"{group:02d}-{third}", *of_part)
        write_kept(place, key, dict(zip((INTERVALS, SAMPLES), of_part, strict=True)), {})
        parts.append(KeptPart(int(group), month_of(third), key, *span_of(*of_part)))
    write_kept(place, "quality", {DEVICE_QUALITY: told}, {})
    write_manifest(place, Manifest("mark", (), tuple(parts), (), quality="quality"))


def _third(table: pd.DataFrame) -> Any:
    """The third of a month (UTC) in which each row ends."""
    ends = pd.DatetimeIndex(table["end_utc" if "end_utc" in table else "time_utc"])
    return bins_of(ends.as_unit("us").asi8 - 1) // 2


@pytest.fixture
def kept(tmp_path: Path) -> Callable[..., Path]:
    """Save intervals and samples; steps and kinds by device; the place they are kept at."""

    def keep(
        *tables: pd.DataFrame,
        kinds: dict[str, str] | None = None,
        findings: tuple[Finding, ...] = (),
    ) -> Path:
        flows = [t for t in tables if "volume_m3" in t]
        seen = [t for t in tables if "value" in t]
        told = []
        for table in tables:
            for device_id, rows in table.groupby("device_id"):
                step = np.nan
                if "volume_m3" in rows:
                    step = (rows["end_utc"] - rows["start_utc"]).median() / pd.Timedelta(hours=1)
                kind = (kinds or {}).get(str(device_id), "register")
                told.append({"device_id": device_id, "kind": kind, "step_h": step})
        readings = Readings(
            intervals=pd.concat(flows, ignore_index=True) if flows else empty(INTERVALS),
            samples=pd.concat(seen, ignore_index=True) if seen else empty(SAMPLES),
            quality=quality(*told),
            findings=findings,
        )
        place = tmp_path / "place"
        save(place, readings)
        return place

    return keep
