"""Raw rows of reading files, kept once a file as Parquet, to be had again by groups of devices."""

from __future__ import annotations

import hashlib
import json
import zlib
from collections.abc import Callable, Collection, Iterator, Sequence
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
from district.schema.thirds import counted

GROUPS = 16
"""Devices are cleaned group by group: what is in memory at once is a sixteenth of the rows."""
ROWS, DEVICES, _TOLD = "rows.parquet", "devices.parquet", "told.json"
RAW_FOLDER = "raw"
EVER_US = (-(2**62), 2**62)
"""Before and after all times."""
_ROWS_AT_ONCE = 4_000_000
_ODD = np.uint64(0x9E3779B97F4A7C15)
"""An odd number with well spread bits: multiplying by it loses nothing."""
_MONTHS = 10_000
"""More than there are months from 1970 to any time that counts."""
Array = np.ndarray[Any, Any]
Pieces = dict[str, list[list[int]]]
Sink = Callable[[pd.DataFrame], None]


def group_of(device_id: str) -> int:
    """The group a device belongs to, the same on every machine and in every run."""
    return zlib.crc32(device_id.encode()) % GROUPS


def part_key(digest: str, mark: str) -> str:
    """The name under which a file's raw rows are kept.

    `digest` is of its contents, `mark` of all else that they depend on.
    """
    return hashlib.blake2b(f"{digest}\n{mark}".encode(), digest_size=16).hexdigest()


def write_part(
    place: Path, key: str, read: Callable[[Sink], FileRead], *, mark: str = ""
) -> FileRead:
    """Keep the rows that `read` gives to its sink (table RAW, piece by piece), and what it tells.

    Whole or not at all. Rows stand by group of device and month, in their order within these; of
    each such stretch it is known from when to when it reaches, and of each device how many rows
    there are in each bin of the calendar, with a mark of what they say: of a file that only grew
    the marks of what it said before stay. `mark` is of all but the contents that the rows depend
    on. Raises `OutputError`.
    """
    with whole_folder(place / RAW_FOLDER / key, replace=True) as draft:
        pieces: list[list[int]] = []
        seen: list[pd.DataFrame] = []
        held: list[pd.DataFrame] = []
        schema = _schema()
        with pq.ParquetWriter(draft / ROWS, schema, compression="zstd") as writer:

            def flush() -> None:
                if not held:
                    return
                rows = _together(held)
                held.clear()
                seen.append(_presence(rows, _seed(mark)))
                for group, first_us, last_us, some in _stretches(rows):
                    writer.write_table(pa.Table.from_pandas(some, schema, preserve_index=False))
                    pieces.append([group, first_us, last_us])

            def sink(piece: pd.DataFrame) -> None:
                held.append(piece)
                # Many small stretches of a file in order of devices would be slow to read again.
                if sum(map(len, held)) >= _ROWS_AT_ONCE:
                    flush()

            told = read(sink)
            flush()
        pq.write_table(_devices_table(seen), draft / DEVICES, compression="zstd")
        text = json.dumps({"pieces": pieces, **asdict(told)}, ensure_ascii=False)
        (draft / _TOLD).write_text(text, encoding="utf-8")
    return told


def load_part(place: Path, key: str) -> FileRead | None:
    """What reading the file told; None where its rows are not kept whole, or it was of no use."""
    said = _said(place, key)
    if said is None:
        return None
    said.pop("pieces")
    try:
        findings = tuple(Finding(**f) for f in said.pop("findings"))
        units = tuple((of, device, unit, by) for of, device, unit, by in said.pop("units"))
        read = FileRead(findings, units=units, **said)
    except (TypeError, ValueError):
        # Kept by another version.
        return None
    # What made a file useless may have passed: a disk that was away, a program that held it.
    return None if any(f.severity == "error" for f in findings) else read


def raw_rows(
    place: Path,
    keys: Sequence[str],
    groups: Collection[int],
    *,
    from_us: int = EVER_US[0],
    to_us: int = EVER_US[1],
    devices: Collection[str] | None = None,
    pieces: Pieces | None = None,
) -> pd.DataFrame:
    """Table RAW of some groups of devices, from all these files in their order.

    Only rows whose time, taken as the first or the second round of its hour, is at `from_us` or
    later and before `to_us`, and only those of `devices` where given. A column `file` is the
    position in `keys`, `group` that of the device. Rows of a file and month are in its order.
    `pieces` as of `pieces_of`, to spare looking them up again.
    Raises `OSError` or `ArrowException` where they are gone or damaged.
    """
    parts: list[pa.Table] = []
    for n, key in enumerate(keys):
        own = pieces[key] if pieces else _pieces(place, key)
        wanted = [
            i
            for i, (group, first_us, last_us) in enumerate(own)
            if group in groups and first_us < to_us and last_us >= from_us
        ]
        if not wanted:
            continue
        with pq.ParquetFile(place / RAW_FOLDER / key / ROWS) as file:
            counts = [file.metadata.row_group(i).num_rows for i in wanted]
            rows = file.read_row_groups(wanted)
        group = np.repeat(np.array([own[i][0] for i in wanted], np.int8), counts)
        rows = rows.append_column("file", pa.array(np.full(len(rows), n, np.int32)))
        rows = rows.append_column("group", pa.array(group))
        parts.append(_cut(rows, from_us, to_us, devices))
    if not parts:
        return empty(RAW).assign(file=0, group=0)
    return pa.concat_tables(parts).unify_dictionaries().to_pandas()


def pieces_of(place: Path, keys: Sequence[str]) -> Pieces:
    """Group, first and last time (µs since 1970, UTC) of each stretch of these files' rows.

    Raises `OSError` where one is gone or damaged.
    """
    return {key: _pieces(place, key) for key in keys}


def _cut(rows: pa.Table, from_us: int, to_us: int, devices: Collection[str] | None) -> pa.Table:
    time_us = rows["time_utc"].combine_chunks().cast(pa.int64()).to_numpy()
    later_us = rows["later_s"].to_numpy().astype(np.int64) * 1_000_000
    keep = (time_us + later_us >= from_us) & (time_us < to_us)
    if devices is not None:
        of_chunk = []
        for chunk in rows["device_id"].chunks:
            known = np.array([i in devices for i in chunk.dictionary.to_pylist()], dtype=bool)
            of_chunk.append(known[chunk.indices.to_numpy()])
        keep &= np.concatenate([np.zeros(0, bool), *of_chunk])
    return rows if keep.all() else rows.filter(pa.array(keep))


def rows_file(place: Path, key: str) -> Path:
    """Where a file's raw rows are."""
    return place / RAW_FOLDER / key / ROWS


def devices_file(place: Path, key: str) -> Path:
    """Where a file's rows are counted, by device and bin of the calendar."""
    return place / RAW_FOLDER / key / DEVICES


def _pieces(place: Path, key: str) -> list[list[int]]:
    said = _said(place, key)
    if said is None:
        raise FileNotFoundError(f"raw rows {key}")
    return list(said["pieces"])


def _said(place: Path, key: str) -> dict[str, Any] | None:
    folder = place / RAW_FOLDER / key
    try:
        said = json.loads((folder / _TOLD).read_text(encoding="utf-8"))
        whole = {"pieces", "findings", "units"} <= set(said)
        whole &= (folder / ROWS).is_file() and (folder / DEVICES).is_file()
    except (OSError, ValueError, TypeError):
        return None
    return said if whole else None


def _together(pieces: list[pd.DataFrame]) -> pd.DataFrame:
    return pieces[0] if len(pieces) == 1 else pd.concat(pieces, ignore_index=True)


def _stretches(rows: pd.DataFrame) -> Iterator[tuple[int, int, int, pd.DataFrame]]:
    """Rows by group and month: group, first and last time (of either round), and they."""
    ids = rows["device_id"]
    of_id = np.array([group_of(i) for i in ids.cat.categories], dtype=np.int64)
    group = of_id[ids.cat.codes.to_numpy()]
    time_us, last_us = _times(rows)
    month = time_us.astype("datetime64[us]").astype("datetime64[M]").astype(np.int64)
    mark = group * _MONTHS + month
    order = np.argsort(mark, kind="stable")
    marks, starts = np.unique(mark[order], return_index=True)
    ends = np.append(starts[1:], len(order))
    for one, first, last in zip(marks, starts, ends, strict=True):
        at = order[first:last]
        some = rows.iloc[at]
        some = some.assign(device_id=some["device_id"].cat.remove_unused_categories())
        yield int(one // _MONTHS), int(time_us[at].min()), int(last_us[at].max()), some


def _times(rows: pd.DataFrame) -> tuple[Array, Array]:
    """Each row's time, and that of the second round of its hour where it comes twice."""
    time_us = pd.DatetimeIndex(rows["time_utc"]).as_unit("us").asi8
    return time_us, time_us + rows["later_s"].to_numpy(dtype=np.int64) * 1_000_000


def _presence(rows: pd.DataFrame, seed: np.uint64) -> pd.DataFrame:
    """Table PRESENCE of a piece of a file; a time that comes twice counts in both its bins."""
    early, late = _times(rows)
    codes = rows["device_id"].cat.codes.to_numpy().astype(np.int64)
    device, bins, counts, first, last, marks = counted(codes, early, late, _marks(rows, seed))
    ids = rows["device_id"].cat.categories.to_numpy(dtype=object)
    return pd.DataFrame(
        {
            "device_id": ids[device],
            "bin": bins.astype(np.int32),
            "rows_count": counts,
            "first_us": first,
            "last_us": last,
            "mark": marks,
        }
    )


def _seed(mark: str) -> np.uint64:
    return np.uint64(int(hashlib.blake2b(mark.encode(), digest_size=8).hexdigest(), 16))


def _marks(rows: pd.DataFrame, seed: np.uint64) -> Array:
    """A mark of each row but for its device, every bit of which hangs on all that it says."""
    mixed = np.full(len(rows), seed)
    for name in ("time_utc", "later_s", "value", "rate", "row"):
        column = rows[name]
        if name == "time_utc":
            said = pd.DatetimeIndex(column).as_unit("us").asi8.view(np.uint64)
        elif column.dtype == np.float64:
            said = column.to_numpy().view(np.uint64)
        else:
            said = column.to_numpy().astype(np.uint64)
        mixed = (mixed ^ said) * _ODD
        mixed ^= mixed >> np.uint64(31)
    return mixed * _ODD


def _devices_table(seen: list[pd.DataFrame]) -> pa.Table:
    """Table PRESENCE of a whole file: each device and bin once."""
    schema = pa.schema(
        {
            "device_id": pa.string(),
            "bin": pa.int32(),
            "rows_count": pa.int64(),
            "first_us": pa.int64(),
            "last_us": pa.int64(),
            "mark": pa.uint64(),
        }
    )
    if not seen:
        return schema.empty_table()
    every = pd.concat(seen, ignore_index=True)
    if len(seen) > 1:
        every = every.groupby(["device_id", "bin"], as_index=False, sort=False).agg(
            {"rows_count": "sum", "first_us": "min", "last_us": "max", "mark": "sum"}
        )
    return pa.Table.from_pandas(every, schema, preserve_index=False)


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
