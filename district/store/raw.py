"""Raw rows of reading files, kept once a file as Parquet, to be had again by groups of devices."""

from __future__ import annotations

import hashlib
import json
import zlib
from collections.abc import Callable, Collection, Sequence
from dataclasses import asdict
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd
import pyarrow as pa
import pyarrow.parquet as pq

from district.errors import Finding
from district.files import whole_folder
from district.results import FileRead
from district.schema.columns import empty
from district.schema.stored import RAW

GROUPS = 16
"""Devices are cleaned group by group: what is in memory at once is a sixteenth of the rows."""
ROWS = "rows.parquet"
_TOLD = "told.json"
RAW_FOLDER = "raw"
Array = np.ndarray[Any, Any]
Sink = Callable[[pd.DataFrame], None]


def group_of(device_id: str) -> int:
    """The group a device belongs to, the same on every machine and in every run."""
    return zlib.crc32(device_id.encode()) % GROUPS


def part_key(digest: str, mark: str) -> str:
    """The name under which a file's raw rows are kept.

    `digest` is of its contents, `mark` of all else that they depend on.
    """
    return hashlib.blake2b(f"{digest}\n{mark}".encode(), digest_size=16).hexdigest()


def write_part(place: Path, key: str, read: Callable[[Sink], FileRead]) -> FileRead:
    """Keep the rows that `read` gives to its sink (table RAW, piece by piece), and what it tells.

    Whole or not at all. Rows of a piece stand by group of device, in their order within it.
    Raises `OutputError`.
    """
    with whole_folder(place / RAW_FOLDER / key, replace=True) as draft:
        groups: list[int] = []
        schema = _schema()
        with pq.ParquetWriter(draft / ROWS, schema, compression="zstd") as writer:

            def sink(piece: pd.DataFrame) -> None:
                for group, rows in _by_group(piece):
                    writer.write_table(pa.Table.from_pandas(rows, schema, preserve_index=False))
                    groups.append(group)

            told = read(sink)
        text = json.dumps({"groups": groups, **asdict(told)}, ensure_ascii=False)
        (draft / _TOLD).write_text(text, encoding="utf-8")
    return told


def load_part(place: Path, key: str) -> FileRead | None:
    """What reading the file told; None where its rows are not kept whole, or it was of no use."""
    said = _said(place, key)
    if said is None:
        return None
    said.pop("groups")
    try:
        findings = tuple(Finding(**f) for f in said.pop("findings"))
        units = tuple((of, device, unit, by) for of, device, unit, by in said.pop("units"))
        read = FileRead(findings, units=units, **said)
    except (TypeError, ValueError):
        # Kept by another version.
        return None
    # What made a file useless may have passed: a disk that was away, a program that held it.
    return None if any(f.severity == "error" for f in findings) else read


def raw_rows(place: Path, keys: Sequence[str], groups: Collection[int]) -> pd.DataFrame:
    """Table RAW of some groups of devices, from all these files in their order.

    A column `file` is the position in `keys`, `group` that of the device. Raises `OSError` or
    `ArrowException` where they are gone or damaged.
    """
    parts: list[pd.DataFrame] = []
    for n, key in enumerate(keys):
        of_row_group = _groups(place, key)
        wanted = [i for i, g in enumerate(of_row_group) if g in groups]
        if wanted:
            with pq.ParquetFile(place / RAW_FOLDER / key / ROWS) as file:
                counts = [file.metadata.row_group(i).num_rows for i in wanted]
                rows = file.read_row_groups(wanted).to_pandas()
            group = np.repeat(np.array([of_row_group[i] for i in wanted], np.int8), counts)
            parts.append(rows.assign(file=np.int32(n), group=group))
    if not parts:
        return empty(RAW).assign(file=0, group=0)
    ids = sorted({c for p in parts for c in p["device_id"].cat.categories})
    for rows in parts:
        rows["device_id"] = rows["device_id"].cat.set_categories(ids)
    return pd.concat(parts, ignore_index=True)


def groups_held(place: Path, key: str) -> frozenset[int]:
    """The groups of devices of which a file holds rows."""
    return frozenset(_groups(place, key))


def rows_file(place: Path, key: str) -> Path:
    """Where a file's raw rows are."""
    return place / RAW_FOLDER / key / ROWS


def _groups(place: Path, key: str) -> list[int]:
    said = _said(place, key)
    if said is None:
        raise FileNotFoundError(f"raw rows {key}")
    return list(said["groups"])


def _said(place: Path, key: str) -> dict[str, Any] | None:
    folder = place / RAW_FOLDER / key
    try:
        said = json.loads((folder / _TOLD).read_text(encoding="utf-8"))
        whole = (folder / ROWS).is_file() and {"groups", "findings", "units"} <= set(said)
    except (OSError, ValueError, TypeError):
        return None
    return said if whole else None


def _by_group(piece: pd.DataFrame) -> list[tuple[int, pd.DataFrame]]:
    ids = piece["device_id"]
    of_id = np.array([group_of(i) for i in ids.cat.categories], dtype=np.int8)
    group = of_id[ids.cat.codes.to_numpy()]
    order = np.argsort(group, kind="stable")
    found, starts = np.unique(group[order], return_index=True)
    ends = np.append(starts[1:], len(order))
    return [(int(g), piece.iloc[order[a:b]]) for g, a, b in zip(found, starts, ends, strict=True)]


def _schema() -> pa.Schema:
    return pa.schema(
        {
            "device_id": pa.dictionary(pa.int32(), pa.string()),
            "time_utc": pa.timestamp("us", tz="UTC"),
            "later_s": pa.int32(),
            "value": pa.float64(),
            "rate": pa.float64(),
            "row": pa.int32(),
        }
    )
