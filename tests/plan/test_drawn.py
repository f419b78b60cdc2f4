"""Draws by limits, and limits of draws."""

from __future__ import annotations

import numpy as np
import pytest

from district.plan.drawn import drawn, limits, scores


def test_scores_are_standard_normal_the_same_every_time_and_apart() -> None:
    one, other = scores(1000, 1), scores(1000, 2)
    assert one.mean() == pytest.approx(0.0, abs=1e-6)
    assert one.std() == pytest.approx(1.0, abs=0.01)
    assert (one == scores(1000, 1)).all()
    assert abs(np.corrcoef(one, other)[0, 1]) < 0.1
    assert len(scores(0, 1)) == 0


def test_draws_have_the_limits_they_were_drawn_by() -> None:
    amounts, lows, highs = [100.0, 5000.0], [70.0, 2000.0], [130.0, 9000.0]
    draws = drawn(amounts, lows, highs, scores(4000, 1))
    low, high = limits(draws, amounts)
    assert low == pytest.approx(lows, rel=0.01)
    assert high == pytest.approx(highs, rel=0.01)
    # One price for all: where the one is high the other is too.
    assert (np.argsort(draws[0]) == np.argsort(draws[1])).all()


def test_without_a_lower_limit_an_amount_lies_as_far_below_by_factor_as_above() -> None:
    draws = drawn([100.0, 0.0], [0.0, 0.0], [400.0, 50.0], scores(4000, 1))
    assert np.quantile(draws[0], [0.025, 0.5, 0.975]) == pytest.approx([25, 100, 400], rel=0.02)
    assert (draws > 0).all()
    assert np.quantile(draws[1], 0.975) == pytest.approx(50.0, rel=0.02)


def test_nothing_stays_nothing_and_without_limits_all_draws_are_the_amount() -> None:
    draws = drawn([0.0, 7.0, 7.0], [0.0, 7.0, np.nan], [0.0, 7.0, np.nan], scores(20, 1))
    assert (draws[0] == 0).all()
    assert draws[1:] == pytest.approx(7.0)


def test_an_amount_without_a_spread_has_no_limits_but_itself() -> None:
    amounts = [32_860.818, 27_671.6667]
    low, high = limits(drawn(amounts, amounts, amounts, scores(50, 4)), amounts)
    assert low.tolist() == high.tolist() == amounts


def test_the_figure_lies_within_its_limits() -> None:
    low, high = limits(np.array([[1.0, 2.0, 3.0]]), [9.0])
    assert low[0] < 2.0
    assert high[0] == 9.0
    low, high = limits(np.zeros((1, 0)), [9.0])
    assert (low[0], high[0]) == (9.0, 9.0)


def test_limits_piece_by_piece_are_those_of_the_whole() -> None:
    draws = np.random.default_rng(1).normal(size=(5000, 40)).astype(np.float32)
    low, high = limits(draws, np.zeros(5000))
    told = np.quantile(draws, (0.025, 0.975), axis=1)
    assert np.allclose(low, told[0])
    assert np.allclose(high, told[1])
