"""The change test on series of one kind of trouble each."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pytest
from scipy import stats

from district.detect.change import date_step, level, refined, tame
from district.detect.course import FIRST_NIGHTS, Alarm
from tests.detect.conftest import find_changes_of

Quiet = Callable[..., np.ndarray]
SIGMA = 0.03


def found(x: np.ndarray) -> tuple:
    return find_changes_of(x, SIGMA)


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


@pytest.mark.parametrize("shift", [1.0, 1.5, 3.0])
def test_start_limits_hold_the_true_night_nearly_always(quiet: Quiet, shift: float) -> None:
    held = 0
    for seed in range(300):
        x = quiet(150, seed)
        x[80:] += shift * SIGMA
        step = date_step(x, 0, len(x), SIGMA)
        assert step is not None
        held += step[1] <= 80 <= step[2]
    # Limits are whole nights, so that they hold somewhat more than 95 % where steps are large.
    assert stats.binomtest(held, 300, 0.95, alternative="less").pvalue > 0.01


def test_no_start_is_later_than_the_night_it_was_told(quiet: Quiet) -> None:
    x = quiet(150, 9)
    x[80:] += 3 * SIGMA
    assert date_step(x, 0, 150, SIGMA, latest=60)[0] <= 60


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
    assert refined(quiet(100, 6), sigma_l_s=0.0, alarms=(Alarm(50, 52, rise=True),)) == ()


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
