"""Stored Parquet opened in DuckDB, times as whole microseconds since 1970, UTC."""

from __future__ import annotations

import atexit
import os
import re
import tempfile
from collections.abc import Collection, Iterator, Sequence
from contextlib import contextmanager
from datetime import UTC, datetime, timedelta
from functools import lru_cache
from pathlib import Path
from typing import Any

import duckdb
import numpy as np
import pandas as pd
import pyarrow as pa
import pyarrow.parquet as pq

from district.schema.columns import Table
from district.schema.stored import INTERVALS, SAMPLES
from district.store.keep import arrow_schema, kept_file, parts_kept
from district.store.manifest import KeptPart

_MEMORY = "2GB"
_BESIDE = pd.Timedelta(days=3)
"""A window of a local date begins and ends within two days of it by UTC."""
_EPOCH = datetime(1970, 1, 1, tzinfo=UTC)
Connection = Any
"""A DuckDB connection with the views `intervals` and `samples`."""


@contextmanager
def connected() -> Iterator[Connection]:
    """A connection in memory, of bounded size; what does not fit goes to temporary files.

    What one registers or names no other sees, nor is it there once this one is closed.
    """
    connection = _database(os.getpid()).cursor()
    try:
        # It would be drawn on the standard output, among the results.
        connection.execute("SET enable_progress_bar = false")
        yield connection
    finally:
        connection.close()


@lru_cache(maxsize=1)
def _database(_process: int) -> Connection:
    # To make a database takes longer than most queries here; a forked process makes its own.
    scratch = tempfile.TemporaryDirectory(prefix="district-", ignore_cleanup_errors=True)
    atexit.register(scratch.cleanup)
    return duckdb.connect(
        config={
            # One thread: sums of floats in another order differ in the last digit between runs.
            "threads": 1,
            "memory_limit": _MEMORY,
            "temp_directory": scratch.name,
            # Files are written anew under their names.
            "enable_external_file_cache": False,
        }
    )


@contextmanager
def opened(
    place: Path,
    months: Collection[str] | None = None,
    *,
    parts: Sequence[KeptPart] | None = None,
    near: pd.DatetimeIndex | None = None,
) -> Iterator[Connection]:
    """A connection that sees what is stored at `place`. Raises `StoreError` without a store.

    Of some months (YYYY-MM, UTC) it sees every interval and sample that touches them, and some
    that do not; of some `parts`, what they hold, in their order. With `near` it sees what lies
    within `_BESIDE` of these dates alone, whatever the clock: the rest is not even decoded.
    """
    own = parts_kept(place, months) if parts is None else parts
    with connected() as connection:
        for table, columns, (begin, end) in (
            (
                INTERVALS,
                "device_id, epoch_us(start_utc) AS start_us, epoch_us(end_utc) AS end_us, "
                "volume_m3, quality",
                ("start_utc", "end_utc"),
            ),
            (
                SAMPLES,
                "device_id, epoch_us(time_utc) AS time_us, value, quality",
                ("time_utc", "time_utc"),
            ),
        ):
            files = [kept_file(place, part.key, table) for part in own]
            view = f"CREATE TEMP VIEW {table.name} AS SELECT {columns} FROM "
            if files:
                listed = ", ".join(quoted(p) for p in files)
                within = "" if near is None else _within(near, begin, end)
                connection.execute(f"{view} read_parquet([{listed}]){within}")
            else:
                # Nothing was read, or nothing in these months.
                connection.register(f"no_{table.name}", arrow_schema(table).empty_table())
                connection.execute(f"{view} no_{table.name}")
            put(connection, f"{table.name}_files", _spans(files, own))
        yield connection


def _within(dates: pd.DatetimeIndex, begin: str, end: str) -> str:
    """SQL that keeps what touches the dates and the days beside them."""
    ends = dates.min() - _BESIDE, dates.max() + _BESIDE
    since, until = (round(at.timestamp() * 1e6) for at in ends)
    return f" WHERE {end} >= make_timestamptz({since}) AND {begin} <= make_timestamptz({until})"


def _spans(files: Sequence[Path], parts: Sequence[KeptPart]) -> pd.DataFrame:
    """The files of some parts, and what span each part holds: `span_us` looks no further."""
    return pd.DataFrame(
        {
            "path": pd.Series([str(f) for f in files], dtype="str"),
            "first_us": pd.Series([p.first_us for p in parts], dtype=np.int64),
            "last_us": pd.Series([p.last_us for p in parts], dtype=np.int64),
        }
    )


def quoted(path: Path) -> str:
    """A path as SQL text that stands for itself, though it holds signs of a pattern."""
    plain = re.sub(r"[*?\[]", lambda sign: f"[{sign[0]}]", str(path))
    return "'" + plain.replace("'", "''") + "'"


def put(connection: Connection, name: str, frame: pd.DataFrame) -> None:
    """Make a small table visible to SQL under `name`."""
    connection.register(name, pa.Table.from_pandas(frame, preserve_index=False))


def span_us(connection: Connection, table: Table) -> tuple[int, int] | None:
    """First and last instant of the stored intervals or samples; none if there are none.

    By what the files say of themselves, so that no row need be read for it; and only of the parts
    that may hold either, as a part holds no time beyond its span.
    """
    held = connection.execute(f"SELECT path, first_us, last_us FROM {table.name}_files").fetchall()
    firsts: list[int] = []
    lasts: list[int] = []
    for path, first_us, _ in sorted(held, key=lambda part: part[1]):
        if firsts and min(firsts) <= first_us:
            break
        firsts += [first for first, _ in _stated_us(path, table)]
    for path, _, last_us in sorted(held, key=lambda part: -part[2]):
        if lasts and max(lasts) >= last_us:
            break
        lasts += [last for _, last in _stated_us(path, table)]
    return (min(firsts), max(lasts)) if firsts and lasts else None


def _stated_us(path: str, table: Table) -> Iterator[tuple[int, int]]:
    """First and last of each time in each group of a file's rows, µs since 1970."""
    times = {c.name for c in table.columns if c.kind == "time"}
    said = pq.read_metadata(path)
    for row_group in map(said.row_group, range(said.num_row_groups)):
        for column in map(row_group.column, range(said.num_columns)):
            if column.path_in_schema in times and column.is_stats_set:
                ends = column.statistics.min, column.statistics.max
                first, last = ((end - _EPOCH) // timedelta(microseconds=1) for end in ends)
                yield first, last


def instants(microseconds: pd.Series[Any]) -> pd.DatetimeIndex:
    """Whole microseconds since 1970 as times in UTC."""
    whole = microseconds.to_numpy(dtype=np.int64)
    return pd.DatetimeIndex(whole.astype("datetime64[us]"), tz="UTC")


def as_declared(frame: pd.DataFrame, table: Table) -> pd.DataFrame:
    """A result with the table's columns in order and kind, sorted by its key."""
    names = list(table.names())
    # What has these columns already is not copied for it.
    frame = frame.copy(deep=False) if list(frame.columns) == names else frame[names]
    for column in table.columns:
        if column.kind == "date":
            frame[column.name] = frame[column.name].astype("datetime64[us]")
        elif column.kind in ("real", "whole"):
            frame[column.name] = frame[column.name].astype(float)
    key = list(table.key) or list(table.names()[:2])
    return frame.sort_values(key, kind="stable", ignore_index=True)
