"""Readings to and from Parquet, one file a month."""

from __future__ import annotations

import json
from dataclasses import asdict
from pathlib import Path

import pandas as pd

from district.errors import Finding, StoreError
from district.files import whole_folder
from district.results import Readings
from district.schema.columns import Table
from district.schema.stored import INTERVALS, SAMPLES
from district.store.freshness import STAMP

_QUALITY = "quality.parquet"
_FINDINGS = "findings.json"


def save(place: Path, readings: Readings, fingerprint: str) -> None:
    """Keep the readings at `place`, whole or not at all; what stood there goes.

    Rows are in order of device and time within a month. Raises `OutputError` if the place is
    unwritable.
    """
    with whole_folder(place, replace=True) as draft:
        _by_month(readings.intervals, INTERVALS, draft)
        _by_month(readings.samples, SAMPLES, draft)
        readings.quality.to_parquet(draft / _QUALITY, index=False)
        told = [asdict(f) for f in readings.findings]
        _write(draft / _FINDINGS, json.dumps(told, ensure_ascii=False, indent=0))
        _write(draft / STAMP, json.dumps({"fingerprint": fingerprint}))


def load_quality(place: Path) -> pd.DataFrame:
    """The table DEVICE_QUALITY as saved."""
    return pd.read_parquet(place / _QUALITY)


def load_findings(place: Path) -> tuple[Finding, ...]:
    """What reading found, as saved: a warm run tells what the cold one told.

    Raises `StoreError` if it cannot be read.
    """
    try:
        told = json.loads((place / _FINDINGS).read_text(encoding="utf-8"))
        return tuple(Finding(**f) for f in told)
    except (OSError, ValueError, TypeError) as reason:
        raise damaged(place) from reason


def damaged(place: Path) -> StoreError:
    """What to raise where kept readings cannot be read."""
    return StoreError(
        f"{place}: readings kept here by an earlier run are damaged. Delete this folder "
        "and run the command again."
    )


def _by_month(frame: pd.DataFrame, table: Table, draft: Path) -> None:
    names = list(table.names())
    key, time = table.key
    folder = draft / table.name
    folder.mkdir()
    ordered = frame[names].sort_values([key, time], kind="stable", ignore_index=True)
    if ordered.empty:
        # DuckDB needs a file to know the columns by.
        ordered.to_parquet(folder / "none.parquet", index=False)
        return
    month = ordered[time].dt.strftime("%Y-%m")
    for name, rows in ordered.groupby(month, sort=True):
        rows.to_parquet(folder / f"{name}.parquet", index=False, compression="zstd")


def _write(path: Path, text: str) -> None:
    path.write_text(text, encoding="utf-8")
