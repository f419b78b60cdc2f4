"""Local times to UTC, right across clock changes.

The hour that comes twice in autumn is told apart by the order of a device's readings: the first
time round is summer time. An hour skipped in spring does not exist, and is handed back as such.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import Any, Literal
from zoneinfo import ZoneInfo

import numpy as np
import pandas as pd

EARLIEST, LATEST = pd.Timestamp("1980-01-01"), pd.Timestamp("2100-01-01")
_OFFSET = r"\d{2}:\d{2}(?::\d{2}(?:[.,]\d+)?)?\s*(?:[zZ]|[+-]\d{2}(?::?\d{2})?)$"
_LAYOUTS = (
    tuple(f"%d.%m.%Y{t}" for t in (" %H:%M:%S", " %H:%M", "")),
    tuple(f"%d/%m/%Y{t}" for t in (" %H:%M:%S", " %H:%M", "")),
    tuple(f"%m/%d/%Y{t}" for t in (" %H:%M:%S", " %H:%M", "")),
    tuple(f"%d-%m-%Y{t}" for t in (" %H:%M:%S", " %H:%M", "")),
    tuple(f"%Y/%m/%d{t}" for t in (" %H:%M:%S", " %H:%M", "")),
)
_DATE = r"\d{1,4}[./-]\d{1,2}[./-]\d{1,4}"
_DAYS_END = r"(?<=[ T])24:00(?::00(?:[.,]0+)?)?(?=$|\s|[zZ+-])"
"""Midnight as the end of its day."""
_HALF_DAY = re.compile(
    r"\b(?P<hour>0?[1-9]|1[0-2]):(?P<rest>\d{2}(?::\d{2})?)(?:[.,]\d+)?\s*(?P<half>[ap])\.?\s?m\.?$",
    re.IGNORECASE,
)
"""A time of day by the twelve-hour clock, at the end of a time."""
_DAY = pd.Timedelta(days=1)
_BEFORE = pd.Timedelta(hours=3)
"""Further back than any clock is put forward."""
_BLOCK = np.timedelta64(6, "h")
Ints = np.ndarray[Any, np.dtype[np.int64]]
Times = np.ndarray[Any, Any]
Flags = np.ndarray[Any, np.dtype[np.bool_]]


@dataclass(frozen=True, eq=False)
class Instants:
    """Times of a file's rows, one entry a row."""

    utc: pd.DatetimeIndex
    """Microseconds, UTC; NaT where unreadable or skipped. Of an hour that comes twice, the first
    round."""
    later_us: Ints
    """How much later the second round of that hour is; 0 where a time comes once."""
    unreadable: Flags
    """Text that is no time, or out of any likely year."""
    skipped: Flags
    """Local times that the spring clock change leaves out."""


def read_times(
    raw: pd.Series[Any],
    *,
    zone: ZoneInfo,
    skipped: Literal["NaT", "as_before"] = "NaT",
    layout: int | None = None,
) -> Instants:
    """What the user wrote as instants; times with an offset of their own keep it.

    `skipped` says what becomes of a time that does not exist: nothing, or what it would be by
    the clock of before the change. Dates as day.month.year and, where the file itself leaves no
    doubt, with slashes are understood; `layout` says which of these is meant where the rows are
    only part of a file (see `layout_of`), None leaves it to the rows given. Which round of a
    repeated hour is meant, `second_round` tells.
    """
    codes, unique = pd.factorize(raw, use_na_sentinel=True)
    aware, local = _parsed(pd.Series(unique), layout)
    blank = codes < 0
    at = np.where(blank, 0, codes)
    if len(unique) == 0:
        nothing = pd.DatetimeIndex(np.full(len(raw), "NaT", "datetime64[us]"), tz="UTC")
        return Instants(nothing, np.zeros(len(raw), np.int64), blank, np.zeros(len(raw), bool))
    likely = _likely(aware.dt.tz_localize(None)) | _likely(local)
    once, twice, absent = _localised(local.where(likely), zone, skipped)
    instants = once.where(aware.isna(), aware).where(likely)
    later = (twice - once).dt.total_seconds().fillna(0).to_numpy() * 1e6
    utc = instants.dt.tz_localize(None).to_numpy("datetime64[us]")[at]
    utc[blank] = np.datetime64("NaT")
    return Instants(
        pd.DatetimeIndex(utc, tz="UTC"),
        np.where(blank, 0, later.astype(np.int64)[at]),
        (~likely.to_numpy())[at] | blank,
        absent.to_numpy()[at] & ~blank,
    )


def second_round(utc_us: Ints, later_us: Ints, groups: Ints, *, zone: ZoneInfo) -> Flags:
    """Which times of a repeated hour are its second round, told apart by a device's order of rows.

    Times and `later_us` as of `Instants`, in file order; `groups` numbers the device of each row.
    """
    if not later_us.any():
        return np.zeros(len(utc_us), bool)
    instants = pd.DatetimeIndex(utc_us.astype("datetime64[us]"), tz="UTC")
    local = instants.tz_convert(zone).tz_localize(None).to_numpy("datetime64[us]")
    shift = np.where(later_us == 0, np.timedelta64("NaT"), later_us.astype("timedelta64[us]"))
    return _second_pass(local, shift, groups)


def layout_counts(texts: pd.Series[Any]) -> Ints:
    """How many dates each layout but ISO 8601 can read; parts of a file can be added up.

    Times of day are left aside, and each date is counted once a call.
    """
    once = texts.dropna().drop_duplicates().astype(str)
    dates = once.str.strip().str.split(" ", n=1).str[0].drop_duplicates()
    # Dates in ISO 8601 are no one else's; of the rest most are no dates at all.
    dates = dates[dates.str.fullmatch(_DATE)]
    counts = [
        pd.to_datetime(dates, format=layouts[-1], errors="coerce").notna().sum()
        for layouts in _LAYOUTS
    ]
    return np.array(counts, dtype=np.int64)


def layout_of(counts: Ints) -> int:
    """The layout that reads the most, by its position in the counts; -1 if in doubt or none."""
    most = counts.max()
    best = np.flatnonzero(counts == most)
    # Two readings that differ (3/4 may be April or March): better none than the wrong month.
    return int(best[0]) if most > 0 and len(best) == 1 else -1


def _parsed(unique: pd.Series[Any], layout: int | None) -> tuple[pd.Series[Any], pd.Series[Any]]:
    """Instants of those with an offset, local times of the others; NaT elsewhere."""
    if isinstance(unique.dtype, pd.DatetimeTZDtype):
        aware = unique.dt.tz_convert("UTC").dt.as_unit("us")
        return aware, pd.Series(pd.NaT, index=unique.index, dtype="datetime64[us]")
    if pd.api.types.is_datetime64_dtype(unique.dtype):
        local = unique.dt.as_unit("us")
        return pd.Series(pd.NaT, index=unique.index, dtype="datetime64[us, UTC]"), local
    texts = unique.astype(str).str.strip()
    texts = texts.str.replace(_HALF_DAY, _by_twenty_four, regex=True)
    late = texts.str.contains(_DAYS_END, regex=True)
    if late.any():
        texts = texts.mask(late, texts.str.replace(_DAYS_END, "00:00", regex=True))
    own = texts.str.contains(_OFFSET, regex=True)
    aware = pd.to_datetime(texts.where(own), format="ISO8601", errors="coerce", utc=True)
    # A bare number is no time, though ISO 8601 would take 2024 or 20240101 for a date.
    local = pd.to_datetime(
        texts.where(~own & ~texts.str.fullmatch(r"[\d.]+")), format="ISO8601", errors="coerce"
    )
    left = ~own & local.isna()
    if left.any():
        local = local.dt.as_unit("us")
        local[left] = _other_layouts(texts[left], layout)
    aware, local = aware.dt.as_unit("us"), local.dt.as_unit("us")
    if late.any():
        aware = aware.mask(late, aware + _DAY)
        local = local.mask(late, local + _DAY)
    return aware, local


def _by_twenty_four(found: re.Match[str]) -> str:
    hour = int(found["hour"]) % 12 + (12 if found["half"].lower() == "p" else 0)
    return f"{hour:02d}:{found['rest']}"


def _other_layouts(texts: pd.Series[Any], layout: int | None) -> pd.Series[Any]:
    chosen = layout_of(layout_counts(texts)) if layout is None else layout
    times = pd.Series(pd.NaT, index=texts.index, dtype="datetime64[us]")
    for form in _LAYOUTS[chosen] if chosen >= 0 else ():
        times = times.fillna(pd.to_datetime(texts, format=form, errors="coerce"))
    return times.astype("datetime64[us]")


def _likely(times: pd.Series[Any]) -> pd.Series[Any]:
    return (times >= EARLIEST) & (times < LATEST)


def _localised(
    local: pd.Series[Any], zone: ZoneInfo, skipped: Literal["NaT", "as_before"]
) -> tuple[pd.Series[Any], pd.Series[Any], pd.Series[Any]]:
    """First reading of each local time, second reading of repeated ones, and which are skipped."""
    first = local.dt.tz_localize(zone, ambiguous=np.ones(len(local), bool), nonexistent="NaT")
    second = local.dt.tz_localize(zone, ambiguous=np.zeros(len(local), bool), nonexistent="NaT")
    absent = first.isna() & local.notna()
    repeated = (first != second) & first.notna()
    if skipped == "as_before" and absent.any():
        earlier = (local[absent] - _BEFORE).dt.tz_localize(zone)
        first[absent] = earlier + _BEFORE
    return (
        first.dt.tz_convert("UTC"),
        second.dt.tz_convert("UTC").where(repeated),
        absent & (skipped == "NaT"),
    )


def _second_pass(local: Times, shift: Times, groups: Ints) -> Flags:
    """Which rows of the repeated hour are its second round.

    `shift` is how much later the second round is; NaT where a time comes only once.
    """
    answer = np.zeros(len(local), bool)
    rows = np.flatnonzero(~np.isnat(shift))
    if len(rows) == 0:
        return answer
    every = np.arange(len(local))
    every = np.where(_backwards(local, groups)[groups], -every, every)
    order = every[rows]
    some = pd.DataFrame({"row": rows, "group": groups[rows], "time": local[rows]})
    times = np.unique(local[rows])
    block = np.concatenate([[0], np.cumsum(np.diff(times) > _BLOCK)])
    some["block"] = block[np.searchsorted(times, local[rows])]
    some = some.iloc[np.lexsort((order, some["block"], some["group"]))]
    spell = some.groupby(["group", "block"], sort=False)["time"]
    back = (spell.diff() < pd.Timedelta(0)).groupby([some["group"], some["block"]]).cumsum() > 0
    again = some.groupby(["group", "block", "time"]).cumcount() > 0
    answer[some["row"].to_numpy()] = (back | again).to_numpy()
    alone = some.groupby(["group", "block"])["row"].transform("size") == 1
    lone = some.loc[alone, "row"].to_numpy()
    answer[lone] = _evener_late(local, shift, lone, np.lexsort((every, groups)), groups)
    return answer


def _evener_late(local: Times, shift: Times, lone: Ints, order: Ints, groups: Ints) -> Flags:
    """Of a reading alone in its repeated hour: whether the second round suits its neighbours.

    Where clocks go back half an hour, an hourly reading falls into it only once.
    """
    position = np.empty(len(order), dtype=np.int64)
    position[order] = np.arange(len(order))
    before = order[np.maximum(position[lone] - 1, 0)]
    after = order[np.minimum(position[lone] + 1, len(order) - 1)]
    since, until = local[lone] - local[before], local[after] - local[lone]
    inner = (before != lone) & (after != lone)
    inner &= (groups[before] == groups[lone]) & (groups[after] == groups[lone])
    late, early = np.abs(since + shift[lone] - until), np.abs(since - until - shift[lone])
    return np.asarray(inner & (late < early))


def _backwards(local: Times, groups: Ints) -> Flags:
    """For each group, whether its rows run from the newest to the oldest."""
    known = pd.DataFrame({"group": groups, "time": local}).dropna()
    ends = known.groupby("group")["time"].agg(["first", "last"])
    answer = np.zeros(int(groups.max()) + 1, bool)
    answer[ends.index.to_numpy()] = (ends["last"] < ends["first"]).to_numpy()
    return answer
