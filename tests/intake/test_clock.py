from __future__ import annotations

from zoneinfo import ZoneInfo

import numpy as np
import pandas as pd
import pytest

from district.intake.clock import layout_counts, layout_of, read_times, second_round

LONDON = ZoneInfo("Europe/London")


def utc(
    texts: list[str | None], zone: str = "Europe/London", groups: object = None, **more: object
) -> list[str]:
    clock = ZoneInfo(zone)
    read = read_times(pd.Series(texts), zone=clock, **more)  # type: ignore[arg-type]
    one = np.zeros(len(texts), dtype=np.int64)
    again = second_round(
        read.utc.asi8, read.later_us, one if groups is None else groups, zone=clock
    )
    times = read.utc + pd.to_timedelta(np.where(again, read.later_us, 0), unit="us")
    return ["-" if pd.isna(t) else t.strftime("%Y-%m-%d %H:%M") for t in times]


def hours_back(zone: str, start: str, count: int, minutes: int) -> tuple[list[str], list[str]]:
    """Instants a step apart as local and UTC text, by the standard library's own clock."""
    first = pd.Timestamp(start, tz="UTC").to_pydatetime()
    instants = [first + pd.Timedelta(minutes=minutes * i) for i in range(count)]
    local = [i.astimezone(ZoneInfo(zone)).strftime("%Y-%m-%d %H:%M") for i in instants]
    return local, [i.strftime("%Y-%m-%d %H:%M") for i in instants]


@pytest.mark.parametrize("minutes", [15, 30, 60])
@pytest.mark.parametrize("order", ["rising", "falling", "by text"])
@pytest.mark.parametrize(
    ("zone", "start"),
    [
        ("Europe/London", "2025-10-25 20:00"),
        ("Europe/London", "2025-03-29 20:00"),
        ("America/New_York", "2025-11-02 00:00"),
        ("America/New_York", "2025-03-09 00:00"),
        ("Australia/Lord_Howe", "2025-04-05 08:00"),
        ("Australia/Lord_Howe", "2025-10-04 08:00"),
    ],
)
def test_every_hour_finds_its_instant(zone: str, start: str, minutes: int, order: str) -> None:
    local, instants = hours_back(zone, start, 12 * 60 // minutes, minutes)
    if order == "falling":
        local, instants = local[::-1], instants[::-1]
    if order == "by text":
        pairs = sorted(zip(local, instants, strict=True))
        local, instants = [p[0] for p in pairs], [p[1] for p in pairs]
    assert utc(local, zone) == instants


def test_devices_are_told_apart() -> None:
    local, instants = hours_back("Europe/London", "2025-10-25 22:00", 6, 60)
    both = [t for t in local for _ in range(2)]
    groups = np.array([0, 1] * 6)
    assert utc(both, groups=groups) == [t for t in instants for _ in range(2)]


def test_a_second_round_with_a_reading_lost_in_the_first() -> None:
    local = ["2025-10-26 01:00", "2025-10-26 01:45", "2025-10-26 01:00", "2025-10-26 01:15"]
    expected = ["2025-10-26 00:00", "2025-10-26 00:45", "2025-10-26 01:00", "2025-10-26 01:15"]
    assert utc(local) == expected


def test_a_skipped_hour_does_not_exist() -> None:
    raw = pd.Series(["2025-03-30 00:30", "2025-03-30 01:30"])
    read = read_times(raw, zone=LONDON)
    assert list(read.skipped) == [False, True]
    assert list(read.unreadable) == [False, False]
    assert utc(["2025-03-30 01:30"], skipped="as_before") == ["2025-03-30 01:30"]


def test_an_offset_of_its_own_is_respected() -> None:
    texts: list[str | None] = ["2025-07-01T12:00Z", "2025-07-01 12:00+02:00", "2025-07-01 12:00"]
    assert utc(texts) == ["2025-07-01 12:00", "2025-07-01 10:00", "2025-07-01 11:00"]
    aware = pd.Series(pd.DatetimeIndex(["2025-07-01 12:00"], tz="Asia/Tokyo"))
    assert read_times(aware, zone=LONDON).utc[0] == pd.Timestamp("2025-07-01 03:00", tz="UTC")


def test_times_without_text_are_local() -> None:
    naive = pd.Series(pd.DatetimeIndex(["2025-07-01 12:00"]))
    assert read_times(naive, zone=LONDON).utc[0] == pd.Timestamp("2025-07-01 11:00", tz="UTC")


@pytest.mark.parametrize(
    ("texts", "expected"),
    [
        (["25.01.2025 13:00", "02.01.2025 13:00:30"], ["2025-01-25 13:00", "2025-01-02 13:00"]),
        (["25/01/2025 13:00", "02/01/2025 13:00"], ["2025-01-25 13:00", "2025-01-02 13:00"]),
        (["01/25/2025 13:00", "01/02/2025 13:00"], ["2025-01-25 13:00", "2025-01-02 13:00"]),
        (["2025/01/25 13:00"], ["2025-01-25 13:00"]),
        (["2025-01-31 24:00", "2025-01-31T24:00:00Z"], ["2025-02-01 00:00"] * 2),
        (["31.12.2024 24:00:00"], ["2025-01-01 00:00"]),
        (["2025-01-31 24:01"], ["-"]),
        (["01/02/2025 13:00", "02/02/2025 13:00"], ["-", "-"]),
        (["20250101", "45000.5", "", None, "soon"], ["-"] * 5),
        (["9120-01-01 00:00", "1925-01-01 00:00"], ["-", "-"]),
    ],
)
def test_dates_as_loggers_write_them(texts: list[str | None], expected: list[str]) -> None:
    assert utc(texts) == expected


def test_no_rows() -> None:
    read = read_times(pd.Series([], dtype=object), zone=LONDON)
    assert len(read.utc) == 0


def test_layouts_of_dates_are_counted_in_parts() -> None:
    first, second = pd.Series(["01/02/2025 10:00", None]), pd.Series(["25/02/2025", "soon"])
    assert layout_of(layout_counts(first)) == -1
    both = layout_counts(first) + layout_counts(second)
    np.testing.assert_array_equal(both, layout_counts(pd.concat([first, second])))
    read = read_times(first[:1], zone=LONDON, layout=layout_of(both))
    assert read.utc[0] == pd.Timestamp("2025-02-01 10:00", tz="UTC")


def test_twelve_hours_and_their_half_of_the_day() -> None:
    texts = [
        "1/31/2025 12:00:00 AM",
        "1/31/2025 12:15 pm",
        "01/31/2025 1:05 p.m.",
        "1/31/2025 9:00AM",
    ]
    assert utc(texts, "UTC") == [f"2025-01-31 {t}" for t in ("00:00", "12:15", "13:05", "09:00")]
    assert utc(["2025-11-02 01:30 AM", "2025-11-02 01:30 AM"], "America/New_York") == [
        "2025-11-02 05:30",
        "2025-11-02 06:30",
    ]
    assert utc(["1/31/2025 13:00 PM", "1/31/2025 0:10 AM"], "UTC") == ["-", "-"]
