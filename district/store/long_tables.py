"""Long tables of few ids: in Parquet, ids by number, and back as pandas, months on end joined."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd
import pyarrow as pa
import pyarrow.dataset as ds
import pyarrow.parquet as pq

from district.files import whole_file
from district.schema.columns import Table, empty
from district.schema.stored import DAILY_VOLUMES, NIGHT_FLOWS

AS_CATEGORIES = (NIGHT_FLOWS.name, DAILY_VOLUMES.name)
"""Tables of a row a meter and day, in which ids stay numbers: a text a row would be gigabytes."""
_TYPES = {
    "text": pa.dictionary(pa.int32(), pa.string()),
    "time": pa.timestamp("us", tz="UTC"),
    "date": pa.date32(),
    "real": pa.float64(),
    "whole": pa.float64(),
}
Codes = np.ndarray[Any, np.dtype[np.integer[Any]]]


def as_arrow(frame: pd.DataFrame, table: Table) -> pa.Table:
    """A table with its columns as they are kept; what is not a number stays that, not empty."""
    columns = {}
    for column in table.columns:
        kind, values = _TYPES[column.kind], frame[column.name]
        if column.kind in ("real", "whole"):
            columns[column.name] = pa.array(values.to_numpy(dtype=float), kind)
        elif column.kind == "text":
            ids = pa.array(values.astype("category"), from_pandas=True)
            columns[column.name] = ids.cast(kind)
        else:
            columns[column.name] = pa.array(values, kind, from_pandas=True)
    return pa.table(columns)


def write_arrow(rows: pa.Table, path: Path) -> None:
    """Keep rows in a file, whole or not at all. Raises `OutputError`."""
    with whole_file(path) as draft:
        pq.write_table(rows, draft, compression="zstd", write_page_checksum=True)


def load_arrow(path: Path, table: Table) -> pa.Table | None:
    """Rows kept in a file; None where it is not there, damaged, or of other columns."""
    try:
        # In memory as the system gives it: the library's own pool asks for large pages, which on a
        # machine that has been up for a while take longer to find than all else here.
        checked = ds.ParquetFragmentScanOptions(page_checksum_verification=True)
        kept = ds.dataset(path, format=ds.ParquetFileFormat(default_fragment_scan_options=checked))
        rows = kept.to_table(use_threads=False, memory_pool=pa.system_memory_pool())
    except (OSError, pa.ArrowException):
        return None
    held = {field.name: field.type for field in rows.schema}
    return rows if held == {c.name: _TYPES[c.kind] for c in table.columns} else None


def from_arrow(parts: Sequence[pa.Table], table: Table) -> pd.DataFrame:
    """Parts of a table, each in order of its key and one after the other in time, as one.

    In order of the key, ids first; ids of the longest tables are categories.
    """
    if not parts:
        return empty(table)
    whole = pa.concat_tables(parts).unify_dictionaries()
    texts = [c.name for c in table.columns if c.kind == "text"]
    if sum(len(part) > 0 for part in parts) > 1 and table.key[:1] == tuple(texts):
        return _device_by_device(whole, table, texts[0])
    ids = {name: _numbered(whole[name].combine_chunks()) for name in texts}
    keys = [ids[name][0] for name in table.key if name in ids]
    order = None if len(parts) == 1 else _order(keys)
    found: dict[str, Any] = {}
    for column in table.columns:
        if column.name in ids:
            codes, names = ids[column.name]
            found[column.name] = _ids(codes if order is None else codes[order], names, table)
            continue
        plain = _plain(whole[column.name], column.kind)
        plain = plain if order is None else plain[order]
        found[column.name] = _in_kind(plain, column.kind)
    return pd.DataFrame(found, copy=False)


def _device_by_device(whole: pa.Table, table: Table, key: str) -> pd.DataFrame:
    """As `from_arrow`, of a table with one column of ids, its key's first.

    Each part is written to where its rows belong, without all of them at once in between: of years
    that would be gigabytes, and half the time.
    """
    batches = [batch for batch in whole.to_batches() if len(batch)]
    rank, names = _ranked(batches[0][key].dictionary)  # Unified: the same of all.
    # -1, of no id, comes first.
    codes = [_coded(batch[key], rank) + 1 for batch in batches]
    # Sorting leaves the order of time, which is that of the parts.
    within = [np.argsort(c, kind="stable") if (np.diff(c) < 0).any() else None for c in codes]
    counts = np.array([np.bincount(c, minlength=len(names) + 1) for c in codes])
    of_id = counts.sum(axis=0)
    start = np.cumsum(of_id) - of_id + np.cumsum(counts, axis=0) - counts
    values = [c for c in table.columns if c.name != key]
    laid: dict[str, Any] = {}
    for batch, own, first, order in zip(batches, counts, start, within, strict=True):
        at = np.arange(len(batch)) + np.repeat(first - (np.cumsum(own) - own), own)
        for column in values:
            plain = _plain(batch[column.name], column.kind)
            if column.name not in laid:
                laid[column.name] = np.empty(len(whole), dtype=plain.dtype)
            laid[column.name][at] = plain if order is None else plain[order]
    ids = np.repeat(np.arange(-1, len(names), dtype=np.int32), of_id)
    found = {
        c.name: _ids(ids, names, table) if c.name == key else _in_kind(laid[c.name], c.kind)
        for c in table.columns
    }
    return pd.DataFrame(found, copy=False)


def _ids(codes: Codes, names: pd.Index[str], table: Table) -> Any:
    if table.name in AS_CATEGORIES:
        return pd.Categorical.from_codes(codes, categories=names)
    return names.array.take(codes, allow_fill=True)


def _plain(values: Any, kind: str) -> Any:
    if kind == "date":
        values = values.cast(pa.timestamp("us"))
    if isinstance(values, pa.ChunkedArray):
        return values.to_numpy()
    return values.to_numpy(zero_copy_only=False)


def _in_kind(plain: Any, kind: str) -> Any:
    return pd.DatetimeIndex(plain, tz="UTC").as_unit("us") if kind == "time" else plain


def _numbered(ids: Any) -> tuple[Codes, pd.Index[str]]:
    """Number and names of ids, numbered in order of their names; -1 where there is none."""
    if isinstance(ids, pa.ChunkedArray):
        ids = ids.chunk(0)
    rank, names = _ranked(ids.dictionary)
    return _coded(ids, rank), names


def _ranked(dictionary: Any) -> tuple[Codes, pd.Index[str]]:
    """The number of each id of a dictionary by order of names, -1 at the end, and these names."""
    names = np.array(dictionary.to_pylist(), dtype=object)
    order = np.argsort(names, kind="stable")
    rank = np.empty(len(names) + 1, dtype=np.int32)
    rank[order] = np.arange(len(names))
    rank[-1] = -1
    return rank, pd.Index(names[order], dtype="str")


def _coded(ids: Any, rank: Codes) -> Codes:
    return np.asarray(rank[ids.indices.fill_null(-1).to_numpy(zero_copy_only=False)])


def _order(keys: Sequence[Codes]) -> Codes | None:
    """The rows in order of their ids, in that of time within; None where they are so already."""
    order = None
    for codes in reversed(keys):
        own = codes if order is None else codes[order]
        if (np.diff(own) >= 0).all():
            continue
        # Numbers of two bytes are sorted several times as fast.
        few = own.astype(np.uint16) if own.min() >= 0 and own.max() < 2**16 else own
        further = np.argsort(few, kind="stable")
        order = further if order is None else order[further]
    return order
