"""Cleaned readings in Parquet, one folder a group of devices, and what goes when they change."""

from __future__ import annotations

import hashlib
import json
import time
from collections.abc import Iterable
from contextlib import suppress
from dataclasses import asdict
from pathlib import Path

import pandas as pd
import pyarrow as pa
import pyarrow.parquet as pq

from district.errors import Finding, StoreError
from district.files import remove, whole_folder
from district.results import Readings
from district.schema.columns import Table, empty
from district.schema.stored import DEVICE_QUALITY, INTERVALS, SAMPLES
from district.store.manifest import MANIFEST, Manifest, read_manifest
from district.store.raw import RAW_FOLDER
from district.store.registry import REGISTRY

_FOLDER = "cleaned"
_TOLD = "told.json"
_STALE_S = 86_400.0
_ROW_GROUP = 100_000
_TYPES = {
    "text": pa.string(),
    "time": pa.timestamp("us", tz="UTC"),
    "real": pa.float64(),
    "whole": pa.float64(),
}


def group_key(group: int, said: Iterable[str]) -> str:
    """The name under which a group of devices is kept: of all that its readings depend on."""
    mark = hashlib.blake2b("\n".join(said).encode(), digest_size=16)
    return f"{group:02d}-{mark.hexdigest()}"


def write_group(place: Path, key: str, readings: Readings) -> None:
    """Keep the cleaned readings of a group of devices, whole or not at all.

    Rows are in order of device and time. Raises `OutputError`.
    """
    with whole_folder(place / _FOLDER / key, replace=True) as draft:
        _write(readings.intervals, INTERVALS, draft)
        _write(readings.samples, SAMPLES, draft)
        _write(readings.quality, DEVICE_QUALITY, draft)
        told = [asdict(f) for f in readings.findings]
        # Last, so that what has it has all.
        (draft / _TOLD).write_text(json.dumps(told, ensure_ascii=False), encoding="utf-8")


def load_group(place: Path, key: str) -> tuple[pd.DataFrame, tuple[Finding, ...]] | None:
    """Table DEVICE_QUALITY and findings of a kept group; None where it is not kept whole."""
    folder = place / _FOLDER / key
    try:
        told = json.loads((folder / _TOLD).read_text(encoding="utf-8"))
        quality = pd.read_parquet(folder / f"{DEVICE_QUALITY.name}.parquet")
        return quality, tuple(Finding(**f) for f in told)
    except (OSError, ValueError, TypeError):
        return None


def load_quality(place: Path) -> pd.DataFrame:
    """The table DEVICE_QUALITY of all devices. Raises `StoreError` if it cannot be read."""
    manifest = read_manifest(place)
    parts = [load_group(place, key) for key in manifest.groups] if manifest else [None]
    tables = [part[0] for part in parts if part is not None]
    if len(tables) < len(parts):
        raise damaged(place)
    return joined_quality(tables)


def joined_quality(tables: list[pd.DataFrame]) -> pd.DataFrame:
    """DEVICE_QUALITY of several groups of devices as one, in order of device."""
    some = [t for t in tables if len(t)]
    if not some:
        return empty(DEVICE_QUALITY)
    return pd.concat(some, ignore_index=True).sort_values("device_id", ignore_index=True)


def group_files(place: Path, table: Table) -> list[Path]:
    """The Parquet files of table INTERVALS or SAMPLES. Raises `StoreError` without a store."""
    manifest = read_manifest(place)
    if manifest is None:
        raise damaged(place)
    return [place / _FOLDER / key / f"{table.name}.parquet" for key in manifest.groups]


def sweep(place: Path, before: Manifest | None, now: Manifest) -> None:
    """Remove what the store held before and holds no longer, and what broken runs left a day ago.

    What another run may be writing at this moment stays.
    """
    held = {f.part for f in now.files} | set(now.groups)
    gone = {f.part for f in before.files} | set(before.groups) if before else set()
    for folder in (place / RAW_FOLDER, place / _FOLDER):
        for kept in folder.iterdir() if folder.is_dir() else ():
            with suppress(OSError):  # Another run may be sweeping too.
                stale = time.time() - kept.stat().st_mtime > _STALE_S
                if kept.name not in held and (kept.name in gone or stale):
                    remove(kept)
    for strange in place.iterdir():
        # Kept by an earlier version of this program.
        known = (MANIFEST, RAW_FOLDER, _FOLDER, REGISTRY)
        if strange.name not in known and strange.name[:1] != ".":
            remove(strange)


def clear(place: Path) -> None:
    """Remove all that is kept, the manifest first."""
    for name in (MANIFEST, _FOLDER, RAW_FOLDER):
        remove(place / name)


def damaged(place: Path) -> StoreError:
    """What to raise where kept readings cannot be read."""
    return StoreError(
        f"{place}: readings kept here by an earlier run are damaged. Delete this folder "
        "and run the command again."
    )


def _write(frame: pd.DataFrame, table: Table, draft: Path) -> None:
    # Declared types, since a group without rows would leave DuckDB to guess them.
    schema = pa.schema({c.name: _TYPES[c.kind] for c in table.columns})
    ordered = frame.reindex(columns=list(table.names())).sort_values(
        list(table.key), kind="stable", ignore_index=True
    )
    pq.write_table(
        pa.Table.from_pandas(ordered, schema, preserve_index=False),
        draft / f"{table.name}.parquet",
        compression="zstd",
        row_group_size=_ROW_GROUP,
    )
