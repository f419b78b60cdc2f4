"""Growth told from steps."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pytest

from district.detect.fit import fit_ramp, growing, steps_misfit
from tests.detect.conftest import find_changes_of

Quiet = Callable[..., np.ndarray]
SIGMA = 0.03
T = np.arange(300)


def kind(x: np.ndarray) -> tuple:
    found = find_changes_of(x, SIGMA)
    return growing(x, SIGMA, found, 0)


@pytest.mark.parametrize("growth", [0.002, 0.004, 0.02])
def test_a_growing_flow_is_fitted(quiet: Quiet, growth: float) -> None:
    ramp, used = kind(quiet(300, 1) + growth * np.clip(T - 200, 0, None))
    assert ramp is not None
    assert used >= 1
    assert ramp.low <= 201 <= ramp.high
    assert ramp.growth_l_s_d == pytest.approx(growth, abs=3 * ramp.error_l_s_d)


def test_slow_growth_is_mostly_told_from_steps(quiet: Quiet) -> None:
    told = 0
    for seed in range(30):
        x = quiet(300, seed) + 0.0015 * np.clip(T - 200, 0, None)
        found = find_changes_of(x, SIGMA)
        rises = (i for i, change in enumerate(found) if change.size_l_s > 0)
        told += any(growing(x, SIGMA, found, i)[0] is not None for i in rises)
    assert told >= 20


def test_growth_that_stops_is_seen_to_stop(quiet: Quiet) -> None:
    ramp, _ = kind(quiet(300, 2) + 0.01 * np.clip(T - 150, 0, 40))
    assert ramp is not None
    assert ramp.stop == pytest.approx(190, abs=5)


def test_a_step_is_not_growth(quiet: Quiet) -> None:
    for seed in range(10):
        assert kind(quiet(300, seed) + 0.2 * (T >= 200))[0] is None


def test_two_steps_are_not_growth(quiet: Quiet) -> None:
    assert kind(quiet(300, 3) + 0.2 * (T >= 100) + 0.2 * (T >= 200))[0] is None


def test_too_few_nights_fit_nothing(quiet: Quiet) -> None:
    assert fit_ramp(quiet(10, 4), 0, 10, SIGMA) is None


def test_fit_agrees_with_plain_least_squares_at_the_same_night(quiet: Quiet) -> None:
    x = quiet(300, 5) + 0.004 * np.clip(T - 200, 0, None)
    ramp = fit_ramp(x, 0, 300, SIGMA)
    assert ramp is not None
    z = np.clip(T - (ramp.position - 1), 0, ramp.stop - ramp.position + 1)
    slope, base = np.polyfit(z, x, 1)
    assert ramp.growth_l_s_d == pytest.approx(slope, rel=0.01)
    assert ramp.base_l_s == pytest.approx(base, rel=0.01)


def test_misfit_of_true_steps_is_about_the_number_of_nights(quiet: Quiet) -> None:
    x = quiet(300, 6) + 0.5 * (T >= 100)
    assert steps_misfit(x, 0, 300, SIGMA, [100]) == pytest.approx(300, rel=0.25)
