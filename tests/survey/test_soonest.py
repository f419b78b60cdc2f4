"""Tests of `district.survey.soonest`, against exhaustive search."""

from __future__ import annotations

from itertools import permutations, product

import numpy as np
import pytest

from district.survey.round import Steps, shortest_round, steps_between
from district.survey.soonest import expected_min, passed_min, soonest_round
from tests.survey.scenes import grid_apart


def test_half_of_each_piece_by_hand() -> None:
    # Home at 0, pieces 10-20 and 50-70 on a line; a metre a minute, and a minute a metre searched.
    at = np.array([10.0, 20.0, 50.0, 70.0, 0.0])
    step = steps_between(np.abs(at[:, None] - at))
    takes = np.array([10.0, 20.0])
    np.testing.assert_allclose(passed_min(step, takes, np.array([0, 2])), [15.0, 60.0])
    np.testing.assert_allclose(passed_min(step, takes, np.array([3, 1])), [80.0, 125.0])
    weight = np.array([3.0, 1.0])
    assert expected_min(step, takes, weight, np.array([0, 2])) == pytest.approx((3 * 15 + 60) / 4)
    assert expected_min(step, takes, 0 * weight, np.array([0, 2])) == pytest.approx(37.5)


@pytest.mark.parametrize("seed", range(4))
def test_near_the_soonest_of_every_order(seed: int) -> None:
    random = np.random.default_rng(seed)
    steps = Steps(steps_between(grid_apart(5, 5, seed)).cost_m / 60)
    takes, weight = random.uniform(1, 15, 5), random.uniform(0, 1, 5) ** 3
    found = soonest_round(steps, takes, weight, shortest_round(steps))
    best = min(
        expected_min(
            steps, takes, weight, np.array([2 * p + w for p, w in zip(o, ways, strict=True)])
        )
        for o in permutations(range(5))
        for ways in product((0, 1), repeat=5)
    )
    assert sorted((found >> 1).tolist()) == list(range(5))
    assert expected_min(steps, takes, weight, found) <= 1.05 * best


def test_no_later_than_what_it_began_with() -> None:
    steps = steps_between(grid_apart(8, 12, 3))
    takes, weight = np.full(12, 10.0), np.arange(12.0)
    start = shortest_round(steps)
    found = soonest_round(steps, takes, weight, start)
    assert expected_min(steps, takes, weight, found) <= expected_min(steps, takes, weight, start)
    assert soonest_round(Steps(np.zeros((1, 1))), takes[:0], weight[:0]).tolist() == []
