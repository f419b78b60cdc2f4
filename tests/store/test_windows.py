from __future__ import annotations

from datetime import time
from zoneinfo import ZoneInfo

import numpy as np
import pandas as pd
import pytest
from hypothesis import given
from hypothesis import strategies as st

from district.store.windows import (
    HOUR_US,
    by_hour,
    day_windows,
    instants_of,
    local_dates,
    night_windows,
    quarter_hours,
)


def dates(*days: str) -> pd.DatetimeIndex:
    return pd.DatetimeIndex(days)


def length_h(table: pd.DataFrame) -> list[float]:
    return ((table["end_us"] - table["start_us"]) / HOUR_US).tolist()


def utc(us: int) -> str:
    return pd.Timestamp(us, unit="us").strftime("%d %H:%M")


# Dates and hours of the clock changes: IANA time zone database.
@pytest.mark.parametrize(
    ("zone", "day", "start", "end", "first", "length"),
    [
        ("Europe/London", "2025-03-30", time(2), time(4), "30 01:00", 2.0),
        ("Europe/London", "2025-03-30", time(0), time(6), "30 00:00", 5.0),
        ("Europe/London", "2025-03-30", time(1, 30), time(3), "30 01:00", 1.0),
        ("Europe/London", "2025-10-26", time(2), time(4), "26 02:00", 2.0),
        ("Europe/London", "2025-10-26", time(0), time(6), "25 23:00", 7.0),
        ("Europe/London", "2025-10-26", time(1), time(1, 30), "26 00:00", 1.5),
        ("America/New_York", "2025-03-09", time(2), time(4), "09 07:00", 1.0),
        ("America/New_York", "2025-11-02", time(2), time(4), "02 07:00", 2.0),
        ("America/New_York", "2025-11-02", time(0), time(6), "02 04:00", 7.0),
        ("Australia/Lord_Howe", "2025-04-06", time(0), time(6), "05 13:00", 6.5),
        ("Australia/Lord_Howe", "2025-10-05", time(2), time(4), "04 15:30", 1.5),
        ("Australia/Lord_Howe", "2025-07-05", time(2), time(4), "04 15:30", 2.0),
    ],
)
def test_night_windows_across_clock_changes(
    zone: str, day: str, start: time, end: time, first: str, length: float
) -> None:
    table = night_windows(dates(day), start, end, ZoneInfo(zone))
    assert utc(table.loc[0, "start_us"]) == first
    assert length_h(table) == [length]


def test_a_window_that_the_clocks_skip_is_left_out() -> None:
    zone = ZoneInfo("America/New_York")
    table = night_windows(dates("2025-03-08", "2025-03-09"), time(2), time(3), zone)
    assert table["night"].tolist() == [pd.Timestamp("2025-03-08")]


@pytest.mark.parametrize(
    ("zone", "days", "lengths"),
    [
        ("Europe/London", ("2025-03-29", "2025-03-30", "2025-03-31"), [24, 23, 24]),
        ("America/New_York", ("2025-11-01", "2025-11-02", "2025-11-03"), [24, 25, 24]),
        ("Australia/Lord_Howe", ("2025-04-05", "2025-04-06", "2025-04-07"), [24, 24.5, 24]),
        # Here the clocks change at midnight.
        ("Africa/Cairo", ("2025-04-24", "2025-04-25", "2025-04-26"), [24, 23, 24]),
        ("America/Havana", ("2025-11-01", "2025-11-02", "2025-11-03"), [24, 25, 24]),
    ],
)
def test_days_join_without_seam(zone: str, days: tuple[str, ...], lengths: list[float]) -> None:
    table = day_windows(dates(*days), ZoneInfo(zone))
    assert length_h(table) == lengths
    assert table["end_us"].tolist()[:-1] == table["start_us"].tolist()[1:]


def test_local_dates_of_instants() -> None:
    first = pd.Timestamp("2025-06-30 22:30", tz="UTC").value // 1000
    last = pd.Timestamp("2025-07-01 23:30", tz="UTC").value // 1000
    found = local_dates(first, last, ZoneInfo("Europe/London"))
    assert [d.day for d in found] == [30, 1, 2]


@pytest.mark.parametrize(
    "zone", ["Europe/London", "America/New_York", "Australia/Lord_Howe", "Asia/Kathmandu"]
)
def test_quarters_know_their_local_hour(zone: str) -> None:
    first = pd.Timestamp("2025-01-01", tz="UTC").value // 1000
    table = quarter_hours(first, first + 365 * 24 * HOUR_US, ZoneInfo(zone))
    some = table.iloc[np.random.default_rng(1).integers(0, len(table), 300)]
    for row in some.itertuples():
        instant = pd.Timestamp(row.quarter * 900, unit="s", tz="UTC").to_pydatetime()
        local = instant.astimezone(ZoneInfo(zone))
        assert (row.day.date(), row.hour) == (local.date(), local.hour)


@given(
    start=st.integers(0, 10**12),
    length=st.integers(1, 10**11),
    window=st.tuples(st.integers(0, 10**12), st.integers(1, 10**11)),
)
def test_every_interval_finds_the_windows_it_touches(
    start: int, length: int, window: tuple[int, int]
) -> None:
    begin, end = window[0], window[0] + window[1]
    windows = pd.DataFrame({"start_us": [begin], "end_us": [end]})
    found = by_hour(windows, longest_us=10**11)
    touches = start < end and start + length > begin
    assert (not touches) or (found["hour"] == start // HOUR_US).sum() == 1
    assert found["hour"].is_unique


def test_a_local_time_is_an_instant_the_first_or_second_of_two() -> None:
    zone = ZoneInfo("Europe/London")
    when = dates("2025-10-26", "2025-10-27")
    first, second = (instants_of(when, time(1), zone, first=f) for f in (True, False))
    assert [utc(us) for us in first] == ["26 00:00", "27 01:00"]
    assert [utc(us) for us in second] == ["26 01:00", "27 01:00"]
