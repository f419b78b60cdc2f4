"""The change test as it runs night by night."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest

from district.detect.course import FIRST_NIGHTS
from district.detect.rhythm import day_features, season_features
from district.detect.sequential import watch
from district.night_noise import limit_for

AXIS = pd.date_range("2023-01-02", periods=500, freq="D")
DAYS = day_features(AXIS, [])
LIMIT = limit_for(0.5)


def drawn(seed: int, places: int, nights: int = 500) -> np.ndarray:
    return 10 + np.random.default_rng(seed).normal(size=(nights, places))


def heard(flow: np.ndarray, after: int, *, rise: bool = True, **more: bool) -> np.ndarray:
    """Nights to the first alarm from night `after` on, by place; infinite without one."""
    told = watch(flow, limit=LIMIT, features=DAYS[: len(flow)], shared=False, **more)
    return np.array(
        [
            next(
                (a.detected - after + 1.0 for a in own if a.rise == rise and a.detected >= after),
                np.inf,
            )
            for own in told.alarms
        ]
    )


@pytest.mark.parametrize("shared", [False, True])
def test_alarms_up_to_a_night_need_no_later_night(shared: bool) -> None:
    flow = drawn(1, 8)
    flow[200:, 1] += 3
    flow[153:155, 2] += 12
    flow[300:, 3] -= 2
    flow[400:, 4] += 0.05 * np.arange(100)
    flow[np.random.default_rng(2).random(flow.shape) < 0.1] = np.nan
    features = np.column_stack([DAYS, season_features(AXIS)])
    whole = watch(flow, limit=LIMIT, features=features, shared=shared).alarms
    assert sum(len(own) for own in whole) >= 5
    for stop in (160, 203, 311, 437):
        part = watch(flow[:stop], limit=LIMIT, features=features[:stop], shared=shared).alarms
        assert part == tuple(tuple(a for a in own if a.detected < stop) for own in whole)


# With a known level a cumulative sum set for a shift of one needs 10.4 nights at 0.8 false alarms
# a year (table of `test_control_charts`); here the level and the noise are estimated, and lone
# spikes are held back.
@pytest.mark.parametrize(("shift", "most"), [(1.0, 25), (2.0, 7), (3.0, 4), (30.0, 2)])
def test_steps_are_heard_soon(shift: float, most: int) -> None:
    flow = drawn(3, 100)
    flow[400:] += shift
    assert np.median(heard(flow, 400)) <= most


def test_falls_are_heard_like_rises() -> None:
    flow = drawn(4, 100)
    flow[400:] -= 2
    assert np.median(heard(flow, 400, rise=False)) <= 7


def test_one_night_however_high_is_never_told() -> None:
    flow = drawn(5, 50)
    flow[300] += 100
    assert (heard(flow[:305], 300) == np.inf).mean() > 0.95


def test_a_use_of_two_nights_ends_and_leaves_the_level_as_it_was() -> None:
    flow = drawn(6, 40)
    flow[300:302] += 20
    flow[400:] += 2
    told = watch(flow, limit=LIMIT, features=DAYS, shared=False).alarms
    ends = [
        any(a.position == 302 and not a.rise and a.detected == 303 for a in own) for own in told
    ]
    assert np.mean(ends) > 0.9
    assert np.median(heard(flow, 400)) <= 7


def test_fewer_alarms_than_stated_on_quiet_nights() -> None:
    """200 places, a year after the first 120 nights: the rate is set on unruly nights."""
    told = watch(drawn(7, 200), limit=limit_for(2.0), features=DAYS, shared=False).alarms
    late = sum(a.detected >= 120 for own in told for a in own)
    assert 0 < late < 2.0 * 200 * 380 / 365.25


def test_what_all_zones_share_raises_no_alarm() -> None:
    flow = drawn(8, 8) + 2 * np.random.default_rng(9).normal(size=(500, 1))
    flow[300:340] += 3
    alone = np.isfinite(heard(flow[:340], 300)).mean()
    features = DAYS[:340]
    told = watch(flow[:340], limit=LIMIT, features=features, shared=True).alarms
    together = np.mean([any(a.rise and a.detected >= 300 for a in own) for own in told])
    assert alone == 1.0
    assert together <= 0.25


def test_a_season_and_weekdays_are_in_the_rhythm_after_a_full_year_and_a_leak_is_not() -> None:
    axis = pd.date_range("2023-01-02", periods=800, freq="D")
    features = np.column_stack([day_features(axis, []), season_features(axis)])
    wave = np.sin(2 * np.pi * np.arange(800) / 365.25)[:, None]
    week = np.where(axis.day_of_week >= 5, 0.5, 0.0)[:, None]
    noise = np.random.default_rng(11).normal(0, 0.1, (800, 5))
    leak = np.where(np.arange(800) >= 600, 3.0, 0.0)[:, None]
    for flow in (5 + wave + week + noise, 5 + wave + week + noise + leak):
        even = flow - watch(flow, limit=LIMIT, features=features, shared=False).rhythm_l_s
        assert even[100:600].std() < 0.25
    assert even[600:].mean() - even[500:600].mean() == pytest.approx(3.0, abs=0.2)
    short = flow[:300]
    even = short - watch(short, limit=LIMIT, features=features[:300], shared=False).rhythm_l_s
    assert even.std() == pytest.approx((5 + wave + noise)[:300].std(), rel=0.15)


def test_a_level_that_may_jump_by_a_changed_meter_is_learnt_anew() -> None:
    flow = drawn(12, 100)
    flow[300:] += 1.5
    jump = np.zeros(flow.shape)
    jump[300] = 3.0
    known = watch(flow, limit=LIMIT, features=DAYS, shared=False, jump_l_s=jump).alarms
    unknown = watch(flow, limit=LIMIT, features=DAYS, shared=False).alarms
    told, untold = (
        sum(300 <= a.detected < 340 for own in alarms for a in own) for alarms in (known, unknown)
    )
    assert untold > 90
    assert told < 10


def test_few_or_no_nights_give_nothing() -> None:
    few = np.full((100, 3), np.nan)
    few[:FIRST_NIGHTS, 0] = 1.0
    few[:, 1] = 1.0
    told = watch(few, limit=LIMIT, features=DAYS[:100], shared=False)
    assert told.alarms == ((), (), ())
    assert told.rhythm_l_s.shape == (100, 3)


def test_nothing_is_written_to() -> None:
    flow = drawn(9, 3)
    before = flow.copy()
    watch(flow, limit=LIMIT, features=DAYS, shared=True)
    np.testing.assert_array_equal(flow, before)
