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

_SUMMED = {
    "rows_count": np.add,
    "first_us": np.minimum,
    "last_us": np.maximum,
    "mark": np.bitwise_xor,
}
"""How what several files hold of a device in a bin is put together."""
_BINS = 60_000
"""More than there are from 1970 to any time that counts."""
_KINDS = {"bin": np.int32, "mark": np.uint64}


def presence_of(
    place: Path, before: Manifest | None, parts: Sequence[str]
) -> tuple[str, pd.DataFrame]:
    """Key and table PRESENCE of these raw parts together, kept at `place`.

    `mark` is of the parts that hold rows of a device in a bin, whatever their order. `device_id`
    is a category. Raises `OSError` where a part's count cannot be read.
    """
    key = key_of("presence", sorted(parts))
    if load_told(place, key) is not None:
        return key, _loaded(kept_file(place, key, PRESENCE))
    frame = _counted(place, before, parts)
    write_kept(place, key, {PRESENCE: frame}, [])
    return key, frame


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
    held: list[pd.DataFrame] = []
    if before and old and set(old) <= set(parts) and load_told(place, before.presence) is not None:
        held.append(_read(kept_file(place, before.presence, PRESENCE), place))
    else:
        new = list(parts)
    held += [_read(devices_file(place, part), place) for part in new]
    return _added(held)


def _added(parts: Sequence[pd.DataFrame]) -> pd.DataFrame:
    """Tables PRESENCE as one, each device and bin once, in order of both."""
    named = (part["device_id"].cat.categories.to_numpy() for part in parts)
    ids = sorted({str(i) for names in named for i in names})
    index = pd.Index(ids, dtype="str")
    places = [
        index.get_indexer(part["device_id"].cat.categories).take(part["device_id"].cat.codes)
        * _BINS
        + part["bin"].to_numpy()
        for part in parts
        if len(part)
    ]
    if not places:
        none = {c: np.zeros(0, _KINDS.get(c, np.int64)) for c in PRESENCE.names()}
        return pd.DataFrame(none | {"device_id": pd.Categorical([], categories=index[:0])})
    where = np.concatenate(places)
    # The first part is by far the longest, and in order: a stable sort does little more than look.
    order = np.argsort(where, kind="stable")
    at = where[order]
    starts = np.flatnonzero(np.append(True, at[1:] != at[:-1]))
    columns = {
        name: how.reduceat(
            np.concatenate([part[name].to_numpy() for part in parts if len(part)])[order], starts
        )
        for name, how in _SUMMED.items()
    }
    device, bins = np.divmod(at[starts], _BINS)
    codes = {"device_id": pd.Categorical.from_codes(device, index), "bin": bins.astype(np.int32)}
    return pd.DataFrame(codes | columns, copy=False)


def _read(file: Path, place: Path) -> pd.DataFrame:
    """Table PRESENCE of one file, `device_id` a category."""
    try:
        return _loaded(file)
    except (OSError, pa.ArrowException, KeyError) as reason:
        # A part may be gone or damaged.
        raise OSError(f"raw rows at {place}") from reason


def _listed(place: Path, parts: Sequence[str]) -> str:
    return ", ".join(quoted(devices_file(place, p)) for p in parts)


def _loaded(file: Path) -> pd.DataFrame:
    table = pq.read_table(file, read_dictionary=["device_id"], partitioning=None)
    frame = table.select(list(PRESENCE.names())).to_pandas()
    # Of a file without rows it comes back as plain text.
    return frame.astype({"device_id": "category"})
