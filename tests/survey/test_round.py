"""Tests of `district.survey.round`, against exhaustive search and a general integer program."""

from __future__ import annotations

from itertools import permutations
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.optimize import Bounds, LinearConstraint, milp
from scipy.sparse import csr_array
from scipy.sparse.csgraph import connected_components

from district.survey.round import Steps, shortest_round, steps_between, walked_m
from tests.examples import examples
from tests.survey.scenes import grid_apart


def shortest_of_all_m(steps: Steps) -> float:
    """Every order and every direction of each piece."""
    count = steps.count
    orders = np.array(list(permutations(range(count))))
    best = np.inf
    for number in range(2**count):
        tours = 2 * orders + ((number >> np.arange(count)) & 1)[orders]
        cost = steps.cost_m[steps.home, tours[:, 0]] + steps.cost_m[tours[:, -1], steps.home]
        for k in range(count - 1):
            cost = cost + steps.cost_m[tours[:, k], tours[:, k + 1]]
        best = min(best, float(cost.min()))
    return best


def least_by_integer_program_m(apart_m: Any) -> float:
    """The same by SciPy's `milp` (HiGHS): each end of a piece is joined to one other end, home
    counts as a piece of no length, and what falls apart is cut off until all hangs together."""
    apart_m = np.pad(apart_m, ((0, 1), (0, 1)), mode="edge")
    apart_m[-1, -1] = apart_m[-2, -1] = apart_m[-1, -2] = 0.0
    ends = len(apart_m)
    a, b = np.triu_indices(ends, 1)
    other = (a >> 1) != (b >> 1)
    a, b = a[other], b[other]
    count = np.arange(len(a))
    each = csr_array((np.ones(2 * len(a)), (np.append(a, b), np.tile(count, 2))))
    rules = [LinearConstraint(each, 1, 1)]
    while True:
        found = milp(apart_m[a, b], constraints=rules, integrality=1 + 0 * a, bounds=Bounds(0, 1))
        taken = found.x > 0.5
        links = csr_array(
            (np.ones(taken.sum()), (a[taken] >> 1, b[taken] >> 1)), shape=(ends // 2, ends // 2)
        )
        parts, part = connected_components(links, directed=False)
        if parts == 1:
            return float(found.fun)
        for k in range(parts):
            across = (part[a >> 1] == k) != (part[b >> 1] == k)
            rules.append(LinearConstraint(across[None].astype(float), 2, np.inf))


@pytest.mark.parametrize("seed", range(8))
def test_no_longer_than_the_best_of_every_order_by_more_than_a_twentieth(seed: int) -> None:
    steps = steps_between(grid_apart(5, 3 + seed % 4, seed))
    tour = shortest_round(steps)
    assert sorted((tour >> 1).tolist()) == list(range(steps.count))
    best = shortest_of_all_m(steps)
    assert best - 1e-6 <= walked_m(steps, tour) <= 1.05 * best + 1e-6


def test_the_same_of_seven_pieces() -> None:
    steps = steps_between(grid_apart(6, 7, 77))
    assert walked_m(steps, shortest_round(steps)) <= 1.05 * shortest_of_all_m(steps) + 1e-6


@pytest.mark.parametrize(("pieces", "seed"), [(10, 1), (14, 2)])
def test_no_longer_than_an_integer_program_by_more_than_a_twentieth(pieces: int, seed: int) -> None:
    apart = grid_apart(9, pieces, seed)
    steps = steps_between(apart)
    best = least_by_integer_program_m(apart)
    assert best - 1e-6 <= walked_m(steps, shortest_round(steps)) <= 1.05 * best + 1e-6


def test_the_two_references_agree() -> None:
    apart = grid_apart(5, 5, 4)
    by_hand = shortest_of_all_m(steps_between(apart))
    assert least_by_integer_program_m(apart) == pytest.approx(by_hand)


@settings(max_examples=examples(8), deadline=None, derandomize=True)
@given(st.integers(1, 5), st.integers(0, 10_000))
def test_points_anywhere_are_walked_as_shortly(pieces: int, seed: int) -> None:
    random = np.random.default_rng(seed)
    at = random.uniform(0, 1000, (2 * pieces + 1, 2))
    apart = np.hypot(*(at[:, None] - at).transpose(2, 0, 1))
    steps = steps_between(apart)
    length = walked_m(steps, shortest_round(steps))
    assert length <= 1.05 * shortest_of_all_m(steps) + 1e-6


def test_nothing_and_one_piece() -> None:
    assert shortest_round(steps_between(np.zeros((1, 1)))).tolist() == []
    apart = np.array([[0.0, 5.0, 3.0], [5.0, 0.0, 4.0], [3.0, 4.0, 0.0]])
    steps = steps_between(apart)
    assert walked_m(steps, shortest_round(steps)) == pytest.approx(7.0)


def test_the_same_pieces_give_the_same_round() -> None:
    steps = steps_between(grid_apart(7, 8, 9))
    before = steps.cost_m.copy()
    np.testing.assert_array_equal(shortest_round(steps), shortest_round(steps))
    np.testing.assert_array_equal(steps.cost_m, before)
