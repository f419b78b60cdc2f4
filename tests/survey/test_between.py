"""Tests of `district.survey.between`."""

from __future__ import annotations

from itertools import product

import numpy as np
import pytest

from district.survey.between import moved_between
from district.survey.round import shortest_round, steps_between, walked_m
from district.survey.shifts import Pace, cut_best, cut_into_shifts
from tests.survey.scenes import grid_apart


def test_a_piece_goes_to_the_shift_that_passes_it() -> None:
    # By hand, on a line: home at 0, pieces 10-20 and 30-40 east, 10-20 west; the second of the
    # east is walked with the west: 40 + 40 m more than with its neighbour.
    at = np.array([10.0, 20.0, 30.0, 40.0, -10.0, -20.0, 0.0])
    steps = steps_between(np.abs(at[:, None] - at))
    shifts = [np.array([0]), np.array([4, 3])]
    found = moved_between(steps, shifts, lambda s: 10.0 * len(s), 20.0)
    assert sorted(sorted((s >> 1).tolist()) for s in found) == [[0, 1], [2]]
    kept = moved_between(steps, shifts, lambda s: 10.0 * len(s), 15.0)
    assert [s.tolist() for s in kept] == [[0], [4, 3]]


def test_a_shift_left_empty_is_gone() -> None:
    at = np.array([10.0, 20.0, 30.0, 40.0, 0.0])
    steps = steps_between(np.abs(at[:, None] - at))
    found = moved_between(steps, [np.array([0]), np.array([2])], lambda _: 1.0, 20.0)
    assert len(found) == 1
    assert sorted(found[0] >> 1) == [0, 1]


@pytest.mark.parametrize("seed", range(2))
def test_near_the_shortest_of_every_way_to_part_them_in_two(seed: int) -> None:
    """Five pieces in two shifts, each the shortest round of its own: against every parting."""
    pace = Pace(steps_between(grid_apart(6, 5, seed)), 60.0, np.full(5, 15.0), 65.0)

    def shortest_m(pieces: np.ndarray) -> float:
        tokens = np.append(np.column_stack([2 * pieces, 2 * pieces + 1]).ravel(), pace.steps.home)
        own = steps_between(pace.steps.cost_m[np.ix_(tokens ^ (tokens < pace.steps.home), tokens)])
        return walked_m(own, shortest_round(own))

    best = np.inf
    for sides in product((False, True), repeat=4):
        first = np.append(False, sides)
        parts = [np.flatnonzero(first), np.flatnonzero(~first)]
        lengths = [shortest_m(p) if len(p) else 0.0 for p in parts]
        fits = [15.0 * len(p) + m / 60 <= 65.0 for p, m in zip(parts, lengths, strict=True)]
        if all(fits):
            best = min(best, sum(lengths))
    tour = shortest_round(pace.steps)
    if len(cut_into_shifts(pace, tour)) == 2:
        found = cut_best(pace, tour)
        assert len(found) == 2
        assert sum(walked_m(pace.steps, s) for s in found) <= 1.05 * best
