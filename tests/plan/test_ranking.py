"""Curves of captured breaks, by hand and against scikit-free sums."""

from __future__ import annotations

import numpy as np
import pytest
from scipy import integrate

from district.plan.ranking import BOOTSTRAPS, SHARES, bootstrapped, capture_of, with_limits

LENGTH = np.array([100.0, 300.0, 100.0, 500.0])
BREAKS = np.array([4.0, 2.0, 2.0, 2.0])
EVEN = np.ones(4)


def at(curve: np.ndarray, share: float) -> float:
    return float(curve[round(share * (len(SHARES) - 1))])


def test_the_curve_by_hand() -> None:
    curve, area = capture_of(np.array([4.0, 3.0, 2.0, 1.0]), LENGTH, BREAKS)(EVEN)
    # 10 % of length holds 4 of 10 breaks, 40 % 6, 50 % 8, all 10; straight between.
    assert [at(curve, s) for s in (0, 0.05, 0.1, 0.4, 0.5, 1)] == pytest.approx(
        [0, 0.2, 0.4, 0.6, 0.8, 1]
    )
    # Trapezia: 0.1 x 0.2 + 0.3 x 0.5 + 0.1 x 0.7 + 0.5 x 0.9.
    assert area == pytest.approx(0.69)
    assert area == pytest.approx(integrate.trapezoid([0, 0.4, 0.6, 0.8, 1], [0, 0.1, 0.4, 0.5, 1]))


def test_pipes_of_one_score_share_what_they_capture() -> None:
    curve, _ = capture_of(np.array([1.0, 0.0, 0.0, 0.0]), LENGTH, BREAKS)(EVEN)
    assert at(curve, 0.1) == pytest.approx(0.4)
    assert at(curve, 0.55) == pytest.approx(0.7)
    flat, area = capture_of(np.zeros(4), LENGTH, BREAKS)(EVEN)
    assert flat == pytest.approx(SHARES)
    assert area == pytest.approx(0.5)


def test_the_order_of_pipes_changes_nothing() -> None:
    score = np.array([2.0, 2.0, 1.0, 3.0])
    one, _ = capture_of(score, LENGTH, BREAKS)(EVEN)
    other, _ = capture_of(score[::-1], LENGTH[::-1], BREAKS[::-1])(EVEN)
    assert one == pytest.approx(other)


def test_a_pipe_that_counts_twice_is_as_two_pipes() -> None:
    score = np.array([4.0, 3.0, 2.0, 1.0])
    once = capture_of(score, LENGTH, BREAKS)(np.array([2.0, 1.0, 1.0, 0.0]))
    written = capture_of(
        np.array([4.0, 4.0, 3.0, 2.0]), LENGTH[[0, 0, 1, 2]], BREAKS[[0, 0, 1, 2]]
    )(EVEN)
    assert once[0] == pytest.approx(written[0])
    assert once[1] == pytest.approx(written[1])


def test_without_a_later_break_nothing_is_captured() -> None:
    curve, area = capture_of(np.arange(4.0), LENGTH, np.zeros(4))(EVEN)
    assert np.isnan(curve).all()
    assert np.isnan(area)


def test_limits_of_random_ranking_are_narrow_and_of_few_breaks_wide() -> None:
    rng = np.random.default_rng(3)
    length = rng.uniform(10, 100, 300)
    few, many = rng.poisson(0.02, 300).astype(float), rng.poisson(3.0, 300).astype(float)
    score = rng.uniform(size=300)
    wide = bootstrapped({"a": capture_of(score, length, few)}, 300)["a"][1]
    near = bootstrapped({"a": capture_of(score, length, many)}, 300)["a"][1]
    assert len(wide) == BOOTSTRAPS
    assert np.nanstd(wide) > 3 * np.nanstd(near)


def test_limits_hold_the_figure_and_leave_out_what_is_not_known() -> None:
    assert with_limits(0.5, np.array([0.6, 0.7, np.nan])) == pytest.approx((0.5, 0.5, 0.6975))
    assert np.isnan(with_limits(0.5, np.array([np.nan]))[1])
