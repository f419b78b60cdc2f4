"""Long tables of few ids: in Parquet, ids by number, and back as pandas, months on end joined."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd
import pyarrow as pa
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
        rows = pq.read_table(path, page_checksum_verification=True, partitioning=None)
    except (OSError, pa.ArrowException):
        return None
    kept = {field.name: field.type for field in rows.schema}
    return rows if kept == {c.name: _TYPES[c.kind] for c in table.columns} else None


def from_arrow(parts: Sequence[pa.Table], table: Table) -> pd.DataFrame:
    """Parts of a table, each in order of its key and one after the other in time, as one.

    In order of the key, ids first; ids of the longest tables are categories.
    """
    if not parts:
        return empty(table)
    whole = pa.concat_tables(parts).unify_dictionaries()
    texts = [c.name for c in table.columns if c.kind == "text"]
    ids = {name: _numbered(whole[name].combine_chunks()) for name in texts}
    keys = [ids[name][0] for name in table.key if name in ids]
    order = None if len(parts) == 1 else _order(keys)
    found: dict[str, Any] = {}
    for column in table.columns:
        if column.name in ids:
            codes, names = ids[column.name]
            codes = codes if order is None else codes[order]
            if table.name in AS_CATEGORIES:
                found[column.name] = pd.Categorical.from_codes(codes, categories=names)
            else:
                found[column.name] = names.array.take(codes, allow_fill=True)
            continue
        values = whole[column.name]
        if column.kind == "date":
            values = values.cast(pa.timestamp("us"))
        plain = values.to_numpy()
        plain = plain if order is None else plain[order]
        found[column.name] = (
            pd.DatetimeIndex(plain, tz="UTC").as_unit("us") if column.kind == "time" else plain
        )
    return pd.DataFrame(found, copy=False)


def _numbered(ids: Any) -> tuple[Codes, pd.Index[str]]:
    """Number and names of ids, numbered in order of their names; -1 where there is none."""
    if isinstance(ids, pa.ChunkedArray):
        ids = ids.chunk(0)
    names = np.array(ids.dictionary.to_pylist(), dtype=object)
    order = np.argsort(names, kind="stable")
    rank = np.empty(len(names) + 1, dtype=np.int32)
    rank[order] = np.arange(len(names))
    rank[-1] = -1
    codes = ids.indices.fill_null(-1).to_numpy(zero_copy_only=False)
    return rank[codes], pd.Index(names[order], dtype="str")


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
