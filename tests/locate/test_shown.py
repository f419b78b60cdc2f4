"""Tests of `district.locate.shown`."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.stats import norm

from district.locate.shown import (
    alarm_limit,
    errors_needed,
    independent_count,
    run_length,
)


def test_a_rate_that_needs_no_limit() -> None:
    assert alarm_limit(400.0, tests_count=2) == 0.0


# Two-sided, allowance 0.5. Lucas & Crosier 1982, Technometrics 24(3) 199-205, as repeated in
# textbooks of statistical quality control (from memory).
PRINTED = {
    4.0: {0.5: 26.6, 0.75: 13.3, 1.0: 8.38, 1.5: 4.75, 2.0: 3.34},
    5.0: {0.5: 38.0, 0.75: 17.0, 1.0: 10.4, 1.5: 5.75, 2.0: 4.01},
}


@pytest.mark.parametrize(
    ("limit", "shift", "printed"), [(h, s, a) for h, row in PRINTED.items() for s, a in row.items()]
)
def test_nights_to_the_alarm_are_the_published_ones(
    limit: float, shift: float, printed: float
) -> None:
    assert run_length(shift, limit) == pytest.approx(printed, rel=0.04)


def test_the_course_is_smooth_where_the_shift_is_the_allowance() -> None:
    middle = run_length(0.5, 5.0)
    assert run_length(0.5 + 1e-4, 5.0) == pytest.approx(middle, rel=1e-3)
    assert run_length(0.5 - 1e-4, 5.0) == pytest.approx(middle, rel=1e-3)


def test_more_nights_show_smaller_leaks() -> None:
    limit = alarm_limit(0.5, tests_count=2)
    sizes = [errors_needed(n, limit) / np.sqrt(n) for n in (2, 7, 14, 30, 90)]
    assert sizes == sorted(sizes, reverse=True)


def test_rarer_false_alarms_need_larger_leaks() -> None:
    errors = [errors_needed(7, alarm_limit(r, tests_count=2)) for r in (4.0, 1.0, 0.1)]
    assert errors == sorted(errors)
    assert errors[0] < errors[-1]


def test_a_limit_of_nothing_leaves_the_error_of_the_size() -> None:
    assert errors_needed(9, 0.0) == 3.0


def test_signs_alike_are_one_test_and_those_at_right_angles_many() -> None:
    assert independent_count(np.outer([1.0, 2.0, 0.0], np.arange(1, 8)), 0.5) == pytest.approx(1.0)
    assert independent_count(np.eye(5), 0.5) == pytest.approx(5.0, rel=0.01)
    assert independent_count(np.zeros((3, 4)), 0.5) == 1.0
    assert independent_count(np.zeros((0, 4)), 0.5) == 1.0


def test_signs_all_around_a_circle_amount_to_the_law_of_its_radius() -> None:
    """In the plane the greatest share of all directions is the radius: P = exp(-x^2 / 2)."""
    turn = np.linspace(0, 2 * np.pi, 600, endpoint=False)
    count = independent_count(np.stack([np.cos(turn), np.sin(turn)]), 0.5)
    past = 2 * np.sqrt(0.5 * alarm_limit(0.5, tests_count=count))
    assert count == pytest.approx(np.exp(-(past**2) / 2) / norm.sf(past), rel=0.05)


@pytest.mark.parametrize("readings", [2, 6, 20])
def test_looking_for_many_signs_keeps_the_stated_rate_of_false_alarms(readings: int) -> None:
    """Monte Carlo: the tests for 60 signs, nights of noise only, 4 false alarms a year."""
    random = np.random.default_rng(3)
    signs = random.normal(size=(readings, 2)) @ random.normal(size=(2, 60))
    signs += 0.3 * random.normal(size=(readings, 60))
    unit = signs / np.sqrt((signs**2).sum(axis=0))
    limit = alarm_limit(4.0, tests_count=independent_count(signs, 4.0))
    years, alarms, total = 60, 0, np.zeros(60)
    for _ in range(int(years * 365.25)):
        total = np.maximum(0.0, total + random.normal(size=readings) @ unit - 0.5)
        if (total > limit).any():
            alarms += 1
            total[:] = 0.0
    assert alarms / years == pytest.approx(4.0, rel=0.25)
