"""The change test on series of one kind of trouble each."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pytest
from scipy import stats

from district.detect.change import FIRST_NIGHTS, changes, date_step, level, tame, threshold

Quiet = Callable[..., np.ndarray]
SIGMA = 0.03


def found(x: np.ndarray) -> tuple:
    return changes(x, sigma_l_s=SIGMA, false_alarms_per_year=0.5)


def test_a_step_is_found_dated_and_sized(quiet: Quiet) -> None:
    x = quiet(300, 1)
    x[200:] += 0.2
    (change,) = found(x)
    assert change.position == 200
    assert change.low <= 200 <= change.high
    assert 200 <= change.detected <= 203
    assert change.size_l_s == pytest.approx(0.2, abs=2 * change.error_l_s)


def test_a_fall_is_found_too(quiet: Quiet) -> None:
    x = quiet(300, 2)
    x[200:] -= 0.2
    (change,) = found(x)
    assert change.size_l_s == pytest.approx(-0.2, abs=2 * change.error_l_s)


def test_small_lasting_steps_are_found_in_time(quiet: Quiet) -> None:
    # One standard deviation: 10.4 nights on average with a known baseline (h = 5), and a few
    # more as h is 5.4 and the baseline estimated.
    delays = []
    for seed in range(40):
        x = quiet(300, seed)
        x[200:] += SIGMA
        near = [c for c in found(x) if c.size_l_s > 0 and c.detected >= 190]
        delays.append(near[0].detected - 200 if near else 100)
    assert np.median(delays) < 16


def test_start_limits_hold_the_true_night_nearly_always(quiet: Quiet) -> None:
    held = total = 0
    for seed in range(200):
        x = quiet(150, seed)
        x[80:] += 1.5 * SIGMA
        step = date_step(x, 0, len(x), SIGMA)
        assert step is not None
        held += step[1] <= 80 <= step[2]
        total += 1
    # The likelihood of a change point is not smooth, so the limits are only nearly of 95 %.
    assert stats.binomtest(held, total, 0.95).proportion_ci(0.99).high > 0.9


def test_no_false_alarms_beyond_the_stated_rate_on_twenty_quiet_years(quiet: Quiet) -> None:
    alarms = sum(len(found(quiet(366, 1000 + seed))) for seed in range(20))
    assert alarms <= stats.poisson.ppf(0.975, 0.5 * 20)


def test_one_night_however_high_makes_no_change(quiet: Quiet) -> None:
    x = quiet(200, 3)
    x[120] += 50 * SIGMA
    assert found(x) == ()


def test_a_change_in_missing_nights_is_dated_within_them(quiet: Quiet) -> None:
    x = quiet(300, 4)
    x[200:] += 0.2
    x[190:210] = np.nan
    (change,) = found(x)
    assert (change.low, change.position, change.high) == (190, 210, 210)


def test_a_third_of_the_nights_missing_still_finds_the_step(quiet: Quiet) -> None:
    x = quiet(300, 5)
    x[200:] += 0.2
    x[np.random.default_rng(5).random(300) < 0.33] = np.nan
    (change,) = found(x)
    assert change.low <= 200 <= change.high + 3


def test_few_nights_or_no_noise_give_nothing(quiet: Quiet) -> None:
    assert found(quiet(FIRST_NIGHTS, 6)) == ()
    assert found(np.full(100, np.nan)) == ()
    assert changes(quiet(100, 6), sigma_l_s=0.0, false_alarms_per_year=0.5) == ()


def test_fewer_false_alarms_need_a_higher_threshold() -> None:
    assert threshold(0.1) > threshold(0.5) > threshold(5)
    assert threshold(1000) == 0


def test_dating_agrees_with_a_plain_search_over_every_night(quiet: Quiet) -> None:
    x = quiet(60, 7)
    x[35:] += 2 * SIGMA
    tamed = tame(x, SIGMA)
    squares = [
        ((tamed[:i] - tamed[:i].mean()) ** 2).sum() + ((tamed[i:] - tamed[i:].mean()) ** 2).sum()
        for i in range(1, 60)
    ]
    step = date_step(x, 0, 60, SIGMA)
    assert step is not None
    assert step[0] == 1 + int(np.argmin(squares))


def test_level_is_a_mean_that_spikes_hardly_move() -> None:
    x = np.array([1.0, 1.0, np.nan, 1.0, 100.0])
    assert level(x, 0, 5, 0.1) == (pytest.approx(1 + 0.35 / 4), 4)
    assert level(x, 2, 3, 0.1)[1] == 0


def test_series_is_not_written_to(quiet: Quiet) -> None:
    x = quiet(200, 8)
    before = x.copy()
    found(x)
    np.testing.assert_array_equal(x, before)
