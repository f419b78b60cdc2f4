"""What was told with the present readings and with those before: one file, replaced whole.

It is kept beside the readings and outlives them: when they are read anew, nothing is told twice.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime
from pathlib import Path
from typing import Any

import pandas as pd
import pyarrow as pa
import pyarrow.parquet as pq

from district.files import whole_file
from district.schema.event_tables import TOLD

REGISTRY = "told.parquet"
_FORMAT = "1"
_NOW, _BEFORE = "now", "before"
_ROUND = "round"
_TYPES: dict[str, Any] = {
    "text": pa.string(),
    "real": pa.float64(),
    "whole": pa.float64(),
    "flag": pa.bool_(),
    "date": pa.timestamp("us"),
    "time": pa.timestamp("us", tz="UTC"),
}


@dataclass(frozen=True, eq=False)
class Told:
    """What was told with some data: table TOLD, and which data it was."""

    mark: str
    """Of the readings, layers, records and settings it was told with."""
    last: date
    """Their last night."""
    edition: datetime
    """Their last reading (UTC); a second later than the edition before where that is no later."""
    rows: pd.DataFrame


@dataclass(frozen=True, eq=False)
class Registry:
    """What was told with the latest data, and with the data before; None where there was none."""

    now: Told
    before: Told | None


def before_of(registry: Registry | None, mark: str) -> Told | None:
    """What was told before the data of `mark`: a run on data that are known is told as the first.

    None where nothing was.
    """
    if registry is None:
        return None
    return registry.before if registry.now.mark == mark else registry.now


def write_registry(place: Path, registry: Registry) -> None:
    """Make this what was told, whole or not at all. Raises `OutputError`."""
    rounds = [(_NOW, registry.now)]
    if registry.before is not None:
        rounds.append((_BEFORE, registry.before))
    said = {"format": _FORMAT}
    tables = []
    fields = [pa.field(c.name, _TYPES[c.kind]) for c in TOLD.columns]
    schema = pa.schema([*fields, pa.field(_ROUND, pa.string())])
    for name, told in rounds:
        said |= {
            f"{name}_mark": told.mark,
            f"{name}_last": told.last.isoformat(),
            f"{name}_edition": told.edition.isoformat(),
        }
        rows = told.rows.reindex(columns=list(TOLD.names())).assign(**{_ROUND: name})
        tables.append(pa.Table.from_pandas(rows, schema, preserve_index=False))
    table = pa.concat_tables(tables).replace_schema_metadata(said)
    with whole_file(place / REGISTRY) as draft:
        pq.write_table(table, draft, compression="zstd")


def read_registry(place: Path) -> Registry | None:
    """What was told; None where nothing was, or none of it can be read or is of another form."""
    try:
        table = pq.read_table(place / REGISTRY)
        said = {k.decode(): v.decode() for k, v in (table.schema.metadata or {}).items()}
        if said["format"] != _FORMAT:
            return None
        frame = table.to_pandas(ignore_metadata=True)
        now = _told(said, frame, _NOW)
        return Registry(now, _told(said, frame, _BEFORE) if f"{_BEFORE}_mark" in said else None)
    except (OSError, pa.ArrowException, KeyError, ValueError):
        return None


def _told(said: dict[str, str], frame: pd.DataFrame, name: str) -> Told:
    rows = frame.loc[frame[_ROUND] == name, list(TOLD.names())].reset_index(drop=True)
    for column in TOLD.columns:
        if column.kind == "text":
            rows[column.name] = rows[column.name].astype(object)
    return Told(
        said[f"{name}_mark"],
        date.fromisoformat(said[f"{name}_last"]),
        datetime.fromisoformat(said[f"{name}_edition"]),
        rows,
    )
