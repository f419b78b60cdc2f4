from __future__ import annotations

from datetime import UTC, datetime
from zoneinfo import ZoneInfo

import numpy as np
import pytest

from district.intake.drift import clock_set_us, corrected, first_of_each, walk_of, walking

DAY_US = 86_400_000_000


@pytest.mark.parametrize("gain_s_d", [40.0, -40.0, 0.0])
def test_a_drifting_clock_is_put_right(gain_s_d: float) -> None:
    true = np.arange(0, 30 * DAY_US, 900_000_000) + 1_700_000_000_000_000
    start = int(true[0])
    shown = start + np.round((true - start) * (1 + gain_s_d / 86_400)).astype(np.int64)
    put_right = corrected(shown, gain_s_d=gain_s_d, from_us=start)
    assert np.abs(put_right - true).max() <= 1


def test_each_device_from_its_own_first_reading() -> None:
    device = np.array([1, 0, 1, 0])
    time = np.array([50, 7, 40, 9])
    first = first_of_each(device, time)
    assert first.tolist() == [40, 7, 40, 7]
    assert corrected(time, gain_s_d=0.0, from_us=first).tolist() == time.tolist()
    assert len(first_of_each(device[:0], time[:0])) == 0


def test_a_lost_clock_is_no_first_reading() -> None:
    time = np.array([0, 9000 * DAY_US, 9001 * DAY_US, 9002 * DAY_US])
    assert first_of_each(np.zeros(4), time).tolist() == [9000 * DAY_US] * 4


def test_when_the_clock_was_set() -> None:
    zone = ZoneInfo("Europe/Vienna")
    # 12:00 in Vienna in July is 10:00 UTC.
    expected = int(datetime(2031, 7, 4, 10, tzinfo=UTC).timestamp() * 1e6)
    assert clock_set_us(datetime(2031, 7, 4, 12), zone) == expected
    assert clock_set_us(datetime(2031, 7, 4, 10, tzinfo=UTC), zone) == expected
    assert clock_set_us(None, zone) is None


def test_steps_of_901_seconds_betray_a_clock() -> None:
    time = np.arange(200) * 901_000_000
    # 1 s in 900 s is 96 s a day.
    walk = walk_of(np.diff(time))
    assert walk is not None
    assert (walk.meant_s, walk.off_s, walk.near_count) == (900.0, 199.0, 199)
    (note,) = walking(walk)
    assert note.remedy.startswith(
        "If its clock is fast, set clock_gain_s_d = 96 under [[readings]]"
    )


def test_whole_seconds_may_hide_the_walk_of_half_of_one() -> None:
    time = np.round(np.arange(400) * 899.5).astype(np.int64) * 1_000_000
    (note,) = walking(walk_of(np.diff(time)))
    # Half a second in 900 s is 48 s a day.
    assert note.remedy.startswith("If its clock is slow, set clock_gain_s_d = -48")


def test_steps_that_waver_or_keep_time_betray_nothing() -> None:
    rng = np.random.default_rng(4)
    even = np.arange(500) * 900_000_000
    wavering = even + rng.integers(-5_000_000, 5_000_000, 500)
    gaps = np.sort(rng.choice(even, 400, replace=False))
    found = [walking(walk_of(np.diff(t))) for t in (even, wavering, gaps, even[:20])]
    assert found == [[]] * 4
    assert walking(walk_of(even[:0])) == []
