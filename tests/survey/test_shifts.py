"""Tests of `district.survey.shifts`."""

from __future__ import annotations

from itertools import combinations, pairwise

import numpy as np
import pytest

from district.survey.round import shortest_round, steps_between, walked_m
from district.survey.shifts import (
    Pace,
    cut_into_shifts,
    found_h,
    in_shifts_as_they_come,
    shortest_shifts,
)
from tests.survey.scenes import grid_apart


def pace(count: int, seed: int, shift_min: float) -> Pace:
    takes = np.random.default_rng(seed).uniform(5, 25, count)
    return Pace(steps_between(grid_apart(6, count, seed)), 60.0, takes, shift_min)


@pytest.mark.parametrize("seed", range(3))
def test_fewest_shifts_and_of_these_the_shortest_walk(seed: int) -> None:
    """Against every way to cut the tour."""
    own = pace(8, seed, 70.0)
    tour = shortest_round(own.steps)
    found = cut_into_shifts(own, tour)
    ways = []
    for number in range(8):
        for cuts in combinations(range(1, 8), number):
            parts = np.split(tour, cuts)
            if all(own.takes_min(p) <= 70.0 for p in parts):
                ways.append((len(parts), sum(walked_m(own.steps, p) for p in parts)))
    best = min(ways)
    assert len(found) == best[0]
    assert sum(walked_m(own.steps, p) for p in found) == pytest.approx(best[1])


def test_every_piece_is_walked_once_within_its_shift() -> None:
    own, weight = pace(14, 3, 60.0), np.linspace(1, 2, 14)
    shifts = shortest_shifts(own, weight)
    assert sorted(np.concatenate(shifts) >> 1) == list(range(14))
    assert all(own.takes_min(s) <= 60.0 for s in shifts)
    worth = [weight[s >> 1].sum() / own.takes_min(s) for s in shifts]
    assert worth == sorted(worth, reverse=True)


def test_what_fits_into_no_shift_has_one_of_its_own() -> None:
    own = pace(3, 1, 1.0)
    assert [len(s) for s in cut_into_shifts(own, np.array([0, 2, 4]))] == [1, 1, 1]
    assert [len(s) for s in in_shifts_as_they_come(own, np.array([0, 2, 4]))] == [1, 1, 1]
    assert cut_into_shifts(own, np.empty(0, dtype=np.int64)) == []


def test_each_shift_is_as_full_as_it_gets() -> None:
    own = pace(8, 2, 90.0)
    tour = shortest_round(own.steps)
    shifts = in_shifts_as_they_come(own, tour)
    np.testing.assert_array_equal(np.concatenate(shifts), tour)
    for one, following in pairwise(shifts):
        assert own.takes_min(np.append(one, following[0])) > 90.0


def test_hours_until_it_is_passed_count_the_way_back() -> None:
    # By hand: home at 0, pieces 0-60 and 60-120 m; 60 m a minute walked, 10 min searched each.
    at = np.array([0.0, 60.0, 60.0, 120.0, 0.0])
    own = Pace(steps_between(np.abs(at[:, None] - at)), 60.0, np.array([10.0, 10.0]), 20.0)
    two = [np.array([0]), np.array([2])]
    # First: passed after 5 min, home after 11; second: 11 + 1 + 5 = 17.
    assert found_h(own, np.array([1.0, 1.0]), two) == pytest.approx((5 + 17) / 2 / 60)
    assert found_h(own, np.zeros(2), two) == pytest.approx(11 / 60)
    assert found_h(own, np.zeros(2), []) == 0.0
