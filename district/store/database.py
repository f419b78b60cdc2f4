"""Stored Parquet opened in DuckDB, times as whole microseconds since 1970, UTC."""

from __future__ import annotations

import atexit
import os
import re
import tempfile
from collections.abc import Collection, Iterator, Sequence
from contextlib import contextmanager
from functools import lru_cache
from pathlib import Path
from typing import Any

import duckdb
import numpy as np
import pandas as pd
import pyarrow as pa

from district.schema.columns import Table
from district.schema.stored import INTERVALS, SAMPLES
from district.store.keep import arrow_schema, kept_file, part_files
from district.store.manifest import KeptPart

_MEMORY = "2GB"
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
) -> Iterator[Connection]:
    """A connection that sees what is stored at `place`. Raises `StoreError` without a store.

    Of some months (YYYY-MM, UTC) it sees every interval and sample that touches them, and some
    that do not; of some `parts`, what they hold, in their order.
    """
    with connected() as connection:
        for table, columns, times in (
            (
                INTERVALS,
                "device_id, epoch_us(start_utc) AS start_us, epoch_us(end_utc) AS end_us, "
                "volume_m3, quality",
                ("start_utc", "end_utc"),
            ),
            (SAMPLES, "device_id, epoch_us(time_utc) AS time_us, value, quality", ("time_utc",)),
        ):
            if parts is None:
                files = part_files(place, table, months)
            else:
                files = [kept_file(place, part.key, table) for part in parts]
            view = f"CREATE TEMP VIEW {table.name} AS SELECT {columns} FROM "
            if not files:
                # Nothing was read, or nothing in these months.
                connection.register(f"no_{table.name}", arrow_schema(table).empty_table())
                connection.execute(f"{view} no_{table.name}")
                _view_of_parts(connection, table, "SELECT NULL::BIGINT, NULL::BIGINT WHERE false")
                continue
            listed = ", ".join(quoted(p) for p in files)
            connection.execute(f"{view} read_parquet([{listed}])")
            # What each part of a file says of itself, so that no row need be read for it.
            _view_of_parts(
                connection,
                table,
                "SELECT epoch_us(stats_min_value::TIMESTAMPTZ), "
                f"epoch_us(stats_max_value::TIMESTAMPTZ) FROM parquet_metadata([{listed}]) "
                f"WHERE path_in_schema IN {times if len(times) > 1 else f'({times[0]!r})'}",
            )
        yield connection


def _view_of_parts(connection: Connection, table: Table, query: str) -> None:
    connection.execute(f"CREATE TEMP VIEW {table.name}_parts(first_us, last_us) AS {query}")


def quoted(path: Path) -> str:
    """A path as SQL text that stands for itself, though it holds signs of a pattern."""
    plain = re.sub(r"[*?\[]", lambda sign: f"[{sign[0]}]", str(path))
    return "'" + plain.replace("'", "''") + "'"


def put(connection: Connection, name: str, frame: pd.DataFrame) -> None:
    """Make a small table visible to SQL under `name`."""
    connection.register(name, pa.Table.from_pandas(frame, preserve_index=False))


def span_us(connection: Connection, table: Table) -> tuple[int, int] | None:
    """First and last instant of the stored intervals or samples; none if there are none."""
    ((first, last),) = connection.execute(
        f"SELECT min(first_us), max(last_us) FROM {table.name}_parts"
    ).fetchall()
    return None if first is None else (int(first), int(last))


def instants(microseconds: pd.Series[Any]) -> pd.DatetimeIndex:
    """Whole microseconds since 1970 as times in UTC."""
    whole = microseconds.to_numpy(dtype=np.int64)
    return pd.DatetimeIndex(whole.astype("datetime64[us]"), tz="UTC")


def as_declared(frame: pd.DataFrame, table: Table) -> pd.DataFrame:
    """A result with the table's columns in order and kind, sorted by its key."""
    frame = frame[list(table.names())].copy()
    for column in table.columns:
        if column.kind == "date":
            frame[column.name] = frame[column.name].astype("datetime64[us]")
        elif column.kind in ("real", "whole"):
            frame[column.name] = frame[column.name].astype(float)
    key = list(table.key) or list(table.names()[:2])
    return frame.sort_values(key, kind="stable", ignore_index=True)
