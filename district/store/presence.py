"""Which devices were read when, over all files: what decides which parts are cleaned anew.

The list is kept, and files that came since are added to it; so a morning with one new file does
not look at what the others hold.
"""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

import duckdb
import numpy as np
import pandas as pd
import pyarrow as pa
import pyarrow.parquet as pq

from district.schema.kept import PRESENCE
from district.store.database import connected, quoted
from district.store.keep import kept_file, key_of, load_told, write_kept
from district.store.manifest import Manifest
from district.store.raw import devices_file

_COLUMNS = "device_id, bin, rows_count, first_us, last_us, mark"
_ADDED = """
    SELECT device_id, bin::INTEGER AS bin, sum(rows_count)::BIGINT AS rows_count,
        min(first_us)::BIGINT AS first_us, max(last_us)::BIGINT AS last_us,
        bit_xor(mark)::UBIGINT AS mark
    FROM ({}) GROUP BY device_id, bin ORDER BY device_id, bin
"""


def presence_of(
    place: Path, before: Manifest | None, parts: Sequence[str]
) -> tuple[str, pd.DataFrame]:
    """Key and table PRESENCE of these raw parts together, kept at `place`.

    `mark` is of the parts that hold rows of a device in a bin, whatever their order. `device_id`
    is a category. Raises `OSError` where a part's count cannot be read.
    """
    key = key_of("presence", sorted(parts))
    if load_told(place, key) is None:
        frame = _counted(place, before, parts)
        write_kept(place, key, {PRESENCE: frame}, [])
    return key, _loaded(kept_file(place, key, PRESENCE))


def holding(place: Path, parts: Sequence[str], devices: pd.DataFrame) -> list[str]:
    """Those of the raw parts that hold rows of some devices (column device_id), in their order."""
    if not parts or devices.empty:
        return []
    files = {str(devices_file(place, p)): p for p in parts}
    query = f"""
        SELECT DISTINCT filename FROM read_parquet([{_listed(place, parts)}], filename = true)
        WHERE device_id IN (SELECT device_id FROM wanted)
    """
    with connected() as connection:
        connection.register("wanted", pa.Table.from_pandas(devices[["device_id"]]))
        try:
            names = {name for (name,) in connection.execute(query).fetchall()}
        except duckdb.Error as reason:
            raise OSError(f"raw rows at {place}") from reason
    return [part for file, part in files.items() if file in names]


def devices_in(place: Path, parts: Sequence[str]) -> frozenset[str]:
    """The devices of which some raw parts hold rows."""
    if not parts:
        return frozenset()
    query = f"SELECT DISTINCT device_id FROM read_parquet([{_listed(place, parts)}])"
    with connected() as connection:
        try:
            return frozenset(i for (i,) in connection.execute(query).fetchall())
        except duckdb.Error as reason:
            raise OSError(f"raw rows at {place}") from reason


def _counted(place: Path, before: Manifest | None, parts: Sequence[str]) -> pd.DataFrame:
    old = [f.part for f in before.files] if before else []
    new = [p for p in parts if p not in set(old)]
    sources = []
    if before and old and set(old) <= set(parts) and load_told(place, before.presence) is not None:
        kept = quoted(kept_file(place, before.presence, PRESENCE))
        sources.append(f"SELECT {_COLUMNS} FROM read_parquet({kept})")
    else:
        new = list(parts)
    if new:
        sources.append(f"SELECT {_COLUMNS} FROM read_parquet([{_listed(place, new)}])")
    if not sources:
        return pd.DataFrame({c: np.zeros(0, np.int64) for c in PRESENCE.names()}).astype(
            {"device_id": str}
        )
    with connected() as connection:
        try:
            return connection.execute(_ADDED.format(" UNION ALL ".join(sources))).df()
        except duckdb.Error as reason:
            # A part may be gone or damaged.
            raise OSError(f"raw rows at {place}") from reason


def _listed(place: Path, parts: Sequence[str]) -> str:
    return ", ".join(quoted(devices_file(place, p)) for p in parts)


def _loaded(file: Path) -> pd.DataFrame:
    table = pq.read_table(file, read_dictionary=["device_id"])
    return table.to_pandas()
