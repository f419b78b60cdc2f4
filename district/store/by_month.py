"""Reductions made by local month and kept: only those whose readings changed are made anew."""

from __future__ import annotations

import hashlib
import os
import time
from collections.abc import Callable, Iterable, Mapping, Sequence
from contextlib import ExitStack, suppress
from dataclasses import dataclass
from pathlib import Path
from zoneinfo import ZoneInfo

import pandas as pd
import pyarrow as pa
import pyarrow.compute as pc

from district.errors import OutputError
from district.files import remove
from district.schema.columns import Table
from district.schema.stored import INTERVALS
from district.store.database import Connection, opened
from district.store.freshness import method
from district.store.keep import REDUCED_FOLDER, kept_file
from district.store.long_tables import as_arrow, from_arrow, load_arrow, write_arrow
from district.store.manifest import Manifest
from district.store.stretches import Stretch, stretches

_METHOD = 1
"""Raised where a reduction is made otherwise, so that what is kept of it is made anew."""
_STALE_S = 30 * 86_400.0
_LARGE_BYTES = 10_000_000  # of intervals in a month: some five million
Make = Callable[[Connection, pd.DatetimeIndex, Mapping[str, pa.Table]], pd.DataFrame]
"""Makes a table's rows of some local dates from the readings that touch them, and from the tables
of the same dates made before it."""


@dataclass(frozen=True, eq=False)
class Reduction:
    """A table to be made by month; `said` marks all that its rows depend on beside readings."""

    table: Table
    said: str
    make: Make


def by_month(
    place: Path,
    manifest: Manifest,
    wanted: Sequence[Reduction],
    *,
    zone: ZoneInfo,
    since: pd.Timestamp | None = None,
    until: pd.Timestamp | None = None,
    most_made: int | None = None,
    among: Sequence[str] | None = None,
) -> dict[str, pd.DataFrame]:
    """The wanted tables by name, of all that is stored at `place`, in order of their key.

    Of the stretches of dates that end on the local date `since` or after it, and before `until`, if
    given; with `most_made` only so many of those not kept before are made, the latest first, the
    others left out; of the devices `among` alone, if given. Each month of local dates, or third of
    a large one, is made from the cleaned parts that touch it and kept under a key of these and of
    what else it depends on; one kept before, and whole, is not made again. So the tables are the
    same whatever was kept, but for `most_made`. Raises what reading damaged parts raises.
    """
    held: dict[str, list[pa.Table]] = {reduction.table.name: [] for reduction in wanted}
    names: set[str] = set()
    wrote = False
    large, how = large_months(place, manifest), method()
    left = most_made
    for stretch in reversed(list(stretches(manifest, zone, large=large))):
        named = [_name(reduction, stretch, zone, how) for reduction in wanted]
        names |= set(named)
        if since is not None and stretch.dates[-1] < since:
            continue
        if until is not None and stretch.dates[-1] >= until:
            continue
        own: dict[str, pa.Table] = {}
        with ExitStack() as stack:
            connection = None
            for reduction, name in zip(wanted, named, strict=True):
                path = place / REDUCED_FOLDER / name
                rows = load_arrow(path, reduction.table)
                if rows is None and left == 0:
                    continue
                if rows is None:
                    left = None if left is None else left - 1
                    if connection is None:
                        connection = stack.enter_context(
                            opened(place, parts=stretch.parts, near=stretch.dates)
                        )
                    rows = as_arrow(reduction.make(connection, stretch.dates, own), reduction.table)
                    wrote = True
                    with suppress(OutputError):  # Made anew next time.
                        write_arrow(rows, path)
                else:
                    with suppress(OSError):  # Told as asked for: others' sweeps leave it.
                        os.utime(path)
                own[reduction.table.name] = rows
        for name, rows in own.items():
            some = rows if among is None else rows.filter(_of(rows, among))
            if len(some):
                held[name].append(some)
    if wrote:
        _sweep(place, names, {reduction.table.name for reduction in wanted})
    return {r.table.name: from_arrow(held.pop(r.table.name)[::-1], r.table) for r in wanted}


def _of(rows: pa.Table, devices: Sequence[str]) -> pa.ChunkedArray:
    """Which rows are of these devices."""
    return pc.is_in(rows["device_id"].cast(pa.string()), value_set=pa.array(devices, pa.string()))


def none_kept(place: Path, table: Table) -> bool:
    """Whether nothing of a table is kept at `place`, of whatever readings."""
    return next((place / REDUCED_FOLDER).glob(f"{table.name}-*"), None) is None


def large_months(place: Path, manifest: Manifest) -> set[str]:
    """Months (YYYY-MM, UTC) of which so much is kept at `place` that thirds are worth it."""
    size: dict[str, int] = {}
    for part in manifest.parts:
        with suppress(OSError):  # Reading it will tell.
            held = kept_file(place, part.key, INTERVALS).stat().st_size
            size[part.month] = size.get(part.month, 0) + held
    return {month for month, held in size.items() if held > _LARGE_BYTES}


def marked(*said: object) -> str:
    """A mark of texts, numbers and small tables, to tell whether any of them changed."""
    mark = hashlib.blake2b(digest_size=16)
    for one in said:
        text = one.to_csv(index=False) if isinstance(one, pd.DataFrame) else repr(one)
        mark.update(f"{len(text)} {text}".encode())
    return mark.hexdigest()


def _name(reduction: Reduction, stretch: Stretch, zone: ZoneInfo, how: str) -> str:
    """What the rows of a stretch are kept under."""
    said = [how, str(_METHOD), repr(reduction.table), zone.key, reduction.said]
    said += [part.key for part in stretch.parts]
    mark = hashlib.blake2b("\n".join(said).encode(), digest_size=16)
    return f"{reduction.table.name}-{stretch.name}-{mark.hexdigest()}.parquet"


def _sweep(place: Path, names: Iterable[str], tables: Iterable[str]) -> None:
    """Remove what was kept of these tables before, and all that nobody asked for in a month."""
    held, own = set(names), set(tables)
    for kept in (place / REDUCED_FOLDER).glob("*.parquet"):
        with suppress(OSError):  # Another run may be sweeping too.
            stale = time.time() - kept.stat().st_mtime > _STALE_S
            if kept.name not in held and (stale or kept.name.split("-")[0] in own):
                remove(kept)
