"""Tests of `district.hydraulics.assembly`."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from district.hydraulics import pattern_of
from district.hydraulics.assembly import factored
from tests.hydraulics.networks import network

LINKS = [(0, 1), (1, 2), (2, 3), (3, 1), (1, 2), (2, 2)]
MODEL = network({0: 50.0}, [0.0] * 4, LINKS)


def test_the_factors_are_those_of_the_matrix_written_out() -> None:
    """Parallel pipes add up, a pipe from a node to itself adds nothing, one end may count less."""
    pattern = pattern_of(MODEL)
    back = np.array([1.0, 2.0, 3.0, 4.0, 5.0, 6.0])
    forward = back * np.array([1.0, 1.0, 0.0, 1.0, 1.0, 1.0])
    by_node = np.array([9.0, 0.5, 0.0, 0.25])
    dense = np.diag(by_node)
    for k, (s, e) in enumerate(LINKS):
        if s != e:
            dense[s, s] += forward[k]
            dense[s, e] -= back[k]
            dense[e, s] -= forward[k]
            dense[e, e] += back[k]
    wanted = np.array([0.3, -1.0, 2.0])
    factors = factored(pattern, forward, back, by_node)
    rows = pattern.place[1:]
    right = np.empty(3)
    right[rows] = wanted
    assert factors.solve(right)[rows] == pytest.approx(np.linalg.solve(dense[1:, 1:], wanted))


def test_the_pattern_knows_fixed_heads_and_which_way_links_run() -> None:
    pattern = pattern_of(MODEL)
    assert pattern.place[0] == -1
    assert sorted(pattern.place[1:].tolist()) == [0, 1, 2]
    assert pattern.size == 3
    assert pattern.meets.toarray()[1].tolist() == [1, -1, 0, 1, -1, 0]
    assert pattern.meets.toarray()[2].tolist() == [0, 1, -1, 0, 1, 0]


def test_a_model_of_fixed_heads_alone_has_no_rows() -> None:
    assert pattern_of(replace(MODEL, fixed_head_m=np.full(4, 9.0))).size == 0
