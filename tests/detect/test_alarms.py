"""Alarms of sensors: what belongs together, when it began, whether it lasts."""

from __future__ import annotations

from collections.abc import Callable
from datetime import time
from zoneinfo import ZoneInfo

import pandas as pd
import pytest

from district.detect.alarms import night_of, spells

D = pd.Timestamp
UTC = ZoneInfo("UTC")
KINDS = {"W1": "wet_floor", "F1": "chamber_float"}
Make = Callable[..., pd.DataFrame]


def test_spells_close_together_are_one_alarm(alarms_of: Make) -> None:
    rows = alarms_of(
        [
            ("W1", "2025-03-04T01:00", "2025-03-04T03:00"),
            ("W1", "2025-03-02T23:00", "2025-03-03T05:00"),
            ("W1", "2025-04-01T00:00", "2025-04-01T02:00"),
        ]
    )
    first, second = spells(rows, kinds=KINDS, clock=UTC, last_known=D("2025-12-31"))
    assert (first.first(), first.last()) == (D("2025-03-02"), D("2025-03-04"))
    assert (first.alarm_h, first.onsets_count) == (8.0, 2)
    assert not first.open
    assert not first.flapping
    assert second.start == D("2025-04-01 00:00")


def test_an_alarm_that_lasts_to_the_end_is_open_and_times_are_local(alarms_of: Make) -> None:
    rows = alarms_of([("W1", "2025-03-02T23:30", "2025-03-05T05:00")])
    athens = ZoneInfo("Europe/Athens")
    (spell,) = spells(rows, kinds=KINDS, clock=athens, last_known=D("2025-03-06"))
    assert spell.open
    assert spell.start == D("2025-03-03 01:30")
    (unknown,) = spells(rows, kinds=KINDS, clock=athens, last_known=None)
    assert unknown.open


def test_chatter_over_a_year_is_one_alarm_and_other_sensors_keep_theirs(alarms_of: Make) -> None:
    days = pd.date_range("2025-01-01", periods=24, freq="15D")
    rows = alarms_of([("W1", str(d), str(d + pd.Timedelta("30min"))) for d in days])
    other = alarms_of([("F1", "2025-03-01T00:00", "2025-03-01T12:00")])
    found = spells(pd.concat([rows, other]), kinds=KINDS, clock=UTC, last_known=D("2025-12-31"))
    assert [(s.sensor_id, s.flapping) for s in found] == [("W1", True), ("F1", False)]
    assert found[0].onsets_count == 24
    assert (found[0].first(), found[0].last()) == (days[0], days[-1])


def test_water_after_chatter_is_an_alarm_of_its_own(alarms_of: Make) -> None:
    chatter = alarms_of([("W1", "2025-01-01", "2025-01-02")]).assign(onsets_count=40.0)
    water = alarms_of([("W1", "2025-06-01", "2025-06-03")])
    rows = pd.concat([chatter, water])
    found = spells(rows, kinds=KINDS, clock=UTC, last_known=D("2025-06-03"))
    assert [(s.flapping, s.open) for s in found] == [(True, False), (False, True)]


def test_devices_that_give_no_alarm_are_left_out(alarms_of: Make) -> None:
    rows = alarms_of([("P9", "2025-01-01", "2025-01-02")])
    assert spells(rows, kinds=KINDS, clock=UTC, last_known=None) == ()


def test_the_order_of_rows_does_not_matter(alarms_of: Make) -> None:
    rows = alarms_of(
        [("W1", f"2025-01-{d:02d}T00:00", f"2025-01-{d:02d}T08:00") for d in (1, 2, 3, 9, 20)]
    )
    found = spells(rows, kinds=KINDS, clock=UTC, last_known=None)
    assert len(found) == 3
    assert spells(rows.iloc[::-1], kinds=KINDS, clock=UTC, last_known=None) == found


@pytest.mark.parametrize(
    ("start", "night"),
    [("00:30", "2025-05-06"), ("03:59", "2025-05-06"), ("04:00", "2025-05-07")],
)
def test_a_leak_shows_in_the_first_window_that_ends_after_it_began(start: str, night: str) -> None:
    assert night_of(D(f"2025-05-06 {start}"), night_end=time(4)) == D(night)
