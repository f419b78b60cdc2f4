"""Runs: flows that begin, grow, shrink and end."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pytest

from district.detect.runs import Fall, Run, runs
from tests.detect.conftest import find_changes_of

Quiet = Callable[..., np.ndarray]
SIGMA = 0.03
T = np.arange(360)


def run_all(x: np.ndarray, **more: object) -> tuple[tuple[Run, ...], tuple[Fall, ...]]:
    found = find_changes_of(x, SIGMA)
    return runs(x, sigma_l_s=SIGMA, found=found, **more)


def test_a_step_runs_on(quiet: Quiet) -> None:
    ((run,), falls) = run_all(quiet(360, 1) + 0.3 * (T >= 200))
    assert run.last is None
    assert falls == ()
    assert run.size_l_s() == pytest.approx(0.3, abs=0.02)
    assert (run.flow_l_s[:200] == 0).all()


def test_a_fall_of_like_size_ends_it(quiet: Quiet) -> None:
    ((run,), (fall,)) = run_all(quiet(360, 2) + 0.3 * ((T >= 150) & (T < 250)))
    assert run.last == 249
    assert fall.explained
    assert (run.flow_l_s[250:] == 0).all()


def test_a_smaller_fall_makes_it_less(quiet: Quiet) -> None:
    ((run,), _) = run_all(quiet(360, 3) + 0.5 * (T >= 150) - 0.2 * (T >= 250))
    assert run.last is None
    assert run.size_l_s() == pytest.approx(0.3, abs=0.03)
    assert run.fell_l_s == pytest.approx(0.2, abs=0.03)
    assert run.flow_l_s[200] == pytest.approx(0.5, abs=0.03)


def test_two_steps_far_apart_are_two_and_the_right_one_ends(quiet: Quiet) -> None:
    x = quiet(360, 4) + 0.2 * (T >= 100) + 0.5 * ((T >= 200) & (T < 300))
    ((first, second), _) = run_all(x)
    assert (first.last, second.last) == (None, 299)


def test_one_fall_may_end_two(quiet: Quiet) -> None:
    x = quiet(360, 5) + (0.2 * (T >= 100) + 0.5 * (T >= 200)) * (T < 300)
    ((first, second), _) = run_all(x)
    assert (first.last, second.last) == (299, 299)


def test_steps_close_together_are_one(quiet: Quiet) -> None:
    ((run,), _) = run_all(quiet(360, 6) + 0.3 * (T >= 200) + 0.3 * (T >= 205))
    assert run.position == 200
    assert run.rise_nights == 5
    assert run.size_l_s() == pytest.approx(0.6, abs=0.03)


def test_growth_is_one_run_that_may_end(quiet: Quiet) -> None:
    ((run,), _) = run_all(quiet(360, 7) + 0.01 * np.clip(T - 150, 0, None) * (T < 250))
    assert run.growth_l_s_d == pytest.approx(0.01, rel=0.05)
    assert run.last == 249
    assert run.size_l_s() == pytest.approx(0.99, rel=0.05)


def test_growth_goes_on_over_missing_nights(quiet: Quiet) -> None:
    x = quiet(360, 8) + 0.01 * np.clip(T - 250, 0, None)
    x[350:] = np.nan
    ((run,), _) = run_all(x)
    assert run.size_l_s() == pytest.approx(1.09, rel=0.05)


def test_a_return_from_a_dip_is_no_run(quiet: Quiet) -> None:
    (begun, (fall,)) = run_all(quiet(360, 20) - 0.3 * ((T >= 200) & (T < 215)))
    assert begun == ()
    assert fall.change.size_l_s < 0


def test_only_what_exceeds_the_return_counts(quiet: Quiet) -> None:
    x = quiet(360, 10) - 0.2 * ((T >= 200) & (T < 215)) + 0.3 * (T >= 215)
    ((run,), _) = run_all(x)
    assert run.size_l_s() == pytest.approx(0.3, abs=0.04)


def test_a_rise_long_after_a_repair_is_a_new_run(quiet: Quiet) -> None:
    ((run,), _) = run_all(quiet(360, 11) - 0.3 * ((T >= 100) & (T < 250)))
    assert run.size_l_s() == pytest.approx(0.3, abs=0.03)


def test_falls_set_aside_or_too_small_end_nothing(quiet: Quiet) -> None:
    x = quiet(360, 12) + 0.3 * ((T >= 150) & (T < 250))
    assert run_all(x, aside={250})[0][0].last is None
    assert run_all(x, smallest_l_s=0.4)[0][0].last is None
    assert run_all(x, smallest_l_s=0.1)[0][0].last == 249
