"""Cleaned readings in Parquet, one folder a part, and what goes when they change."""

from __future__ import annotations

import hashlib
import json
import time
from collections.abc import Collection, Iterable, Mapping
from contextlib import suppress
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd
import pyarrow as pa
import pyarrow.parquet as pq

from district.errors import StoreError
from district.files import remove, whole_folder
from district.schema.columns import Column, Table
from district.schema.stored import DEVICE_QUALITY
from district.store.manifest import MANIFEST, KeptPart, Manifest, parts_of, read_manifest
from district.store.raw import RAW_FOLDER
from district.store.registry import REGISTRY

_FOLDER = "cleaned"
REDUCED_FOLDER = "reduced"
_TOLD = "told.json"
_STALE_S = 86_400.0
_ROW_GROUP = 100_000
_TYPES = {
    "text": pa.string(),
    "time": pa.timestamp("us", tz="UTC"),
    "real": pa.float64(),
    "whole": pa.float64(),
}
_EXACT = {
    "bin": pa.int32(),
    "rows_count": pa.int64(),
    "first_us": pa.int64(),
    "last_us": pa.int64(),
    "mark": pa.uint64(),
}
"""Whole numbers that a float would round, or that are many."""


def key_of(name: str, said: Iterable[str]) -> str:
    """The name under which something is kept: `name`, and a mark of all that it depends on."""
    mark = hashlib.blake2b("\n".join(said).encode(), digest_size=16)
    return f"{name}-{mark.hexdigest()}"


def contents_key(name: str, *tables: pd.DataFrame) -> str:
    """The name under which these tables are kept: `name`, and a mark of what they hold."""
    mark = hashlib.blake2b(digest_size=16)
    for table in tables:
        mark.update(pd.util.hash_pandas_object(table, index=False).to_numpy().tobytes())
    return f"{name}-{mark.hexdigest()}"


def write_kept(place: Path, key: str, tables: Mapping[Table, pd.DataFrame], told: Any) -> None:
    """Keep tables under a key, and beside them what was told (as JSON), whole or not at all.

    Rows are in order of their table's key. Raises `OutputError`.
    """
    with whole_folder(place / _FOLDER / key, replace=True) as draft:
        for table, frame in tables.items():
            _write(_in_order(frame, table), table, draft)
        # Last, so that what has it has all.
        (draft / _TOLD).write_text(json.dumps(told, ensure_ascii=False), encoding="utf-8")


def load_told(place: Path, key: str) -> Any:
    """What was told beside the tables kept under a key; None where they are not kept whole."""
    try:
        return json.loads((place / _FOLDER / key / _TOLD).read_text(encoding="utf-8"))
    except (OSError, ValueError):
        return None


def load_frames(
    place: Path, keys: Iterable[str], table: Table, *, devices: Collection[str] | None = None
) -> pd.DataFrame:
    """A table kept under several keys, one after the other; of some devices, if given.

    Raises `StoreError` if one cannot be read.
    """
    asked = [("device_id", "in", set(devices))] if devices is not None else None
    texts = [c.name for c in table.columns if c.kind == "text"]
    # Texts by number, as they stand in the file: word by word they take four times as long.
    how = {"filters": asked} if asked else {"read_dictionary": texts}
    try:
        parts = [
            pq.read_table(kept_file(place, key, table), partitioning=None, **how) for key in keys
        ]
    except (OSError, pa.ArrowException) as reason:
        raise damaged(place) from reason
    parts = [p for p in parts if len(p)] or [arrow_schema(table).empty_table()]
    whole = pa.concat_tables(parts).unify_dictionaries()
    for name in texts:
        at, column = whole.schema.get_field_index(name), whole[name]
        if name != "device_id":
            column = column.cast(pa.string())
        elif not pa.types.is_dictionary(column.type):
            column = column.combine_chunks().dictionary_encode()
        whole = whole.set_column(at, name, column)
    return whole.to_pandas()


def kept_file(place: Path, key: str, table: Table) -> Path:
    """The Parquet file of a table kept under a key."""
    return place / _FOLDER / key / f"{table.name}.parquet"


def span_of(intervals: pd.DataFrame, samples: pd.DataFrame) -> tuple[int, int]:
    """First start and last end of a part's rows, µs since 1970; 0 and -1 of none."""
    starts = [intervals["start_utc"], samples["time_utc"]]
    ends = [intervals["end_utc"], samples["time_utc"]]
    if all(t.empty for t in starts):
        return 0, -1
    first = min(t.min() for t in starts if len(t))
    last = max(t.max() for t in ends if len(t))
    return round(first.timestamp() * 1e6), round(last.timestamp() * 1e6)


def load_quality(place: Path) -> pd.DataFrame:
    """The table DEVICE_QUALITY of all devices. Raises `StoreError` if it cannot be read."""
    manifest = read_manifest(place)
    try:
        if manifest is not None:
            return pd.read_parquet(kept_file(place, manifest.quality, DEVICE_QUALITY))
    except (OSError, ValueError) as reason:
        raise damaged(place) from reason
    raise damaged(place)


def part_files(place: Path, table: Table, months: Collection[str] | None = None) -> list[Path]:
    """The Parquet files of table INTERVALS or SAMPLES; of all that touches some months, if given.

    Months as YYYY-MM, UTC. Raises `StoreError` without a store.
    """
    return [kept_file(place, part.key, table) for part in parts_kept(place, months)]


def parts_kept(place: Path, months: Collection[str] | None = None) -> tuple[KeptPart, ...]:
    """The cleaned parts, or those that touch some months (YYYY-MM, UTC). Raises `StoreError`
    without a store."""
    manifest = read_manifest(place)
    if manifest is None:
        raise damaged(place)
    if months is None:
        return manifest.parts
    keys = {p.key for m in months for p in parts_of(manifest, m)}
    return tuple(p for p in manifest.parts if p.key in keys)


def sweep(place: Path, before: Manifest | None, now: Manifest) -> None:
    """Remove what the store held before and holds no longer, and what broken runs left a day ago.

    What another run may be writing at this moment stays.
    """
    held, gone = _names(now), _names(before) if before else set()
    for folder in (place / RAW_FOLDER, place / _FOLDER):
        for kept in folder.iterdir() if folder.is_dir() else ():
            with suppress(OSError):  # Another run may be sweeping too.
                stale = time.time() - kept.stat().st_mtime > _STALE_S
                if kept.name not in held and (kept.name in gone or stale):
                    remove(kept)
    for strange in place.iterdir():
        # Kept by an earlier version of this program.
        known = (MANIFEST, RAW_FOLDER, _FOLDER, REDUCED_FOLDER, REGISTRY)
        if strange.name not in known and strange.name[:1] != ".":
            remove(strange)


def clear(place: Path) -> None:
    """Remove all that is kept, the manifest first."""
    for name in (MANIFEST, _FOLDER, RAW_FOLDER, REDUCED_FOLDER):
        remove(place / name)


def damaged(place: Path) -> StoreError:
    """What to raise where kept readings cannot be read."""
    return StoreError(
        f"{place}: readings kept here by an earlier run are damaged. Delete this folder "
        "and run the command again."
    )


def _names(manifest: Manifest) -> set[str]:
    named = {manifest.quality, manifest.presence, *manifest.seldom}
    return named | {f.part for f in manifest.files} | {p.key for p in manifest.parts}


def _write(frame: pd.DataFrame, table: Table, draft: Path) -> None:
    # Declared types, since a part without rows would leave DuckDB to guess them.
    columns = {c.name: _column(frame, c.name, _kind(c)) for c in table.columns}
    pq.write_table(
        pa.table(columns),
        draft / f"{table.name}.parquet",
        compression="zstd",
        row_group_size=_ROW_GROUP,
        # Else texts would come back as pandas had them: some as categories, some not.
        store_schema=False,
    )


def arrow_schema(table: Table) -> pa.Schema:
    """The columns of a table as they are kept."""
    return pa.schema({c.name: _kind(c) for c in table.columns})


def _kind(column: Column) -> pa.DataType:
    return _EXACT.get(column.name, _TYPES[column.kind])


def _column(frame: pd.DataFrame, name: str, kind: pa.DataType) -> pa.Array:
    if name not in frame:
        return pa.nulls(len(frame), kind)
    column = frame[name]
    if isinstance(column.dtype, pd.CategoricalDtype):
        return pa.Array.from_pandas(column)
    return pa.Array.from_pandas(column, type=kind)


def _in_order(frame: pd.DataFrame, table: Table) -> pd.DataFrame:
    """Rows by the table's key; those of large tables come in order already."""
    if not table.key:
        return frame
    first, *rest = table.key
    ids = frame[first]
    if isinstance(ids.dtype, pd.CategoricalDtype) and ids.cat.categories.is_monotonic_increasing:
        codes = ids.cat.codes.to_numpy().astype(np.int64)
    else:
        codes = np.unique(ids.to_numpy(dtype=str), return_inverse=True)[1]
    keys = [codes, *(_sortable(frame[name]) for name in rest)]
    if len(frame) < 2:
        return frame
    steps = np.diff(codes)
    on = steps > 0
    for key in keys[1:]:
        on |= (steps == 0) & (np.diff(key) > 0)
        steps = np.where(steps == 0, np.diff(key), steps)
    sorted_now = bool((on | (steps == 0)).all())
    return frame if sorted_now else frame.iloc[np.lexsort(keys[::-1])]


def _sortable(column: pd.Series[Any]) -> np.ndarray[Any, Any]:
    # Times with a zone would become objects one by one.
    if isinstance(column.dtype, pd.DatetimeTZDtype):
        return np.asarray(pd.DatetimeIndex(column).as_unit("us").asi8)
    return np.asarray(column.to_numpy())
