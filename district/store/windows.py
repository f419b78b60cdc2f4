"""Local nights, days and hours as instants, right across clock changes.

Small tables made in pandas, to be joined with readings in SQL. Instants are microseconds since
1970, UTC. A local time skipped by the clocks is the moment they change; of one that comes twice,
a window starts at the first and ends at the second.
"""

from __future__ import annotations

from datetime import time
from typing import Any
from zoneinfo import ZoneInfo

import numpy as np
import pandas as pd

HOUR_US = 3_600_000_000
_QUARTER_US = 900_000_000
_BEFORE = pd.Timedelta(hours=3)
"""Further back than any clock is put forward."""
_DAY = pd.Timedelta(days=1)
Array = np.ndarray[Any, Any]


def local_dates(first_us: int, last_us: int, zone: ZoneInfo) -> pd.DatetimeIndex:
    """The local dates from one instant to another, both included, without clock."""
    ends = pd.DatetimeIndex(np.array([first_us, last_us]).astype("datetime64[us]"), tz="UTC")
    first, last = ends.tz_convert(zone).tz_localize(None).normalize()
    return pd.date_range(first, last, freq="D", unit="us")


def night_windows(dates: pd.DatetimeIndex, start: time, end: time, zone: ZoneInfo) -> pd.DataFrame:
    """One row a night: night (local date), start_us, end_us. Nights that vanish are left out."""
    table = pd.DataFrame(
        {
            "night": dates,
            "start_us": _instants(dates + _since_midnight(start), zone, first=True),
            "end_us": _instants(dates + _since_midnight(end), zone, first=False),
        }
    )
    return table[table["end_us"] > table["start_us"]].reset_index(drop=True)


def instants_of(dates: pd.DatetimeIndex, clock: time, zone: ZoneInfo, *, first: bool) -> Array:
    """The instant of a local time on each date; `first` chooses where it comes twice."""
    return _instants(dates + _since_midnight(clock), zone, first=first)


def day_windows(dates: pd.DatetimeIndex, zone: ZoneInfo) -> pd.DataFrame:
    """One row a day: day (local date), start_us, end_us; each ends where the next begins."""
    starts = _instants(dates, zone, first=True)
    ends = _instants(dates + _DAY, zone, first=True)
    return pd.DataFrame({"day": dates, "start_us": starts, "end_us": ends})


def by_hour(windows: pd.DataFrame, *, longest_us: int) -> pd.DataFrame:
    """Each window once for every hour in which an interval may start that touches it.

    A column `hour` (number since 1970, UTC) beside those given. So a year of intervals of at most
    `longest_us` finds its windows by equal hours, row by row, without being sorted or held.
    """
    first = (windows["start_us"].to_numpy() - longest_us) // HOUR_US
    last = (windows["end_us"].to_numpy() - 1) // HOUR_US
    counts = last - first + 1
    each = windows.loc[windows.index.repeat(counts)].reset_index(drop=True)
    since = np.arange(counts.sum()) - np.repeat(np.cumsum(counts) - counts, counts)
    return each.assign(hour=np.repeat(first, counts) + since)


def quarter_hours(first_us: int, last_us: int, zone: ZoneInfo) -> pd.DataFrame:
    """One row a quarter of an hour: quarter (number since 1970, UTC), day, hour (both local).

    Clocks everywhere differ from UTC by whole quarters, so a quarter lies in one local hour.
    """
    quarters = np.arange(first_us // _QUARTER_US, last_us // _QUARTER_US + 1)
    instants = pd.DatetimeIndex((quarters * _QUARTER_US).astype("datetime64[us]"), tz="UTC")
    local = instants.tz_convert(zone).tz_localize(None)
    return pd.DataFrame(
        {"quarter": quarters, "day": local.normalize(), "hour": local.hour.astype(np.int64)}
    )


def _since_midnight(clock: time) -> pd.Timedelta:
    return pd.Timedelta(hours=clock.hour, minutes=clock.minute, seconds=clock.second)


def _instants(local: pd.DatetimeIndex, zone: ZoneInfo, *, first: bool) -> Array:
    summer = np.full(len(local), first)
    placed = local.tz_localize(zone, ambiguous=summer, nonexistent="NaT").tz_convert("UTC")
    instants = np.array(placed.as_unit("us").asi8)
    for i in np.flatnonzero(placed.isna()):
        instants[i] = _moment_of_change(local[i], zone)
    return instants


def _moment_of_change(skipped: pd.Timestamp, zone: ZoneInfo) -> int:
    """When the clocks pass over a local time. Pandas' own shift fails for changes of 30 min."""
    by_clock_before = (skipped - _BEFORE).tz_localize(zone).tz_convert("UTC") + _BEFORE
    minutes = pd.date_range(by_clock_before - _BEFORE, by_clock_before, freq="min")
    offset = minutes.tz_convert(zone).tz_localize(None) - minutes.tz_localize(None)
    return int(minutes.as_unit("us").asi8[np.argmax(offset != offset[0])])
