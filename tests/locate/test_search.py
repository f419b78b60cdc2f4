"""The shortest set against every subset of small cases."""

from __future__ import annotations

from itertools import chain, combinations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from district.locate.search import shortest_set

cases = st.lists(st.tuples(st.floats(0.01, 1), st.floats(1, 500)), min_size=1, max_size=9).map(
    np.array
)


def brute_force_m(p: np.ndarray, m: np.ndarray, hold: float) -> float:
    subsets = chain.from_iterable(combinations(range(len(p)), r) for r in range(len(p) + 1))
    return min(m[list(s)].sum() for s in subsets if p[list(s)].sum() >= hold - 1e-9)


@given(cases, st.floats(0.5, 0.99))
def test_set_holds_enough_and_no_set_is_shorter_by_more_than_the_gap(
    rows: np.ndarray, hold: float
) -> None:
    p, m = rows[:, 0] / rows[:, 0].sum(), rows[:, 1]
    chosen, gap = shortest_set(p, m, hold_share=hold)
    assert p[chosen].sum() >= hold - 1e-9
    best = brute_force_m(p, m, hold)
    assert best <= m[chosen].sum() + 1e-6
    assert m[chosen].sum() <= best + gap + 1e-6


@given(cases, st.floats(0.5, 0.99))
def test_nothing_in_the_set_can_be_spared(rows: np.ndarray, hold: float) -> None:
    p, m = rows[:, 0] / rows[:, 0].sum(), rows[:, 1]
    chosen, _ = shortest_set(p, m, hold_share=hold)
    assert (p[chosen].sum() - p[chosen] < hold).all()


def test_the_found_set_is_nearly_always_the_shortest() -> None:
    random = np.random.default_rng(2)
    excess = []
    for _ in range(200):
        p, m = random.dirichlet(np.ones(10)), random.uniform(10, 300, 10)
        chosen, _ = shortest_set(p, m, hold_share=0.9)
        excess.append(m[chosen].sum() / brute_force_m(p, m, 0.9) - 1)
    assert np.mean(excess) < 0.005
    assert np.max(excess) < 0.1


def test_one_long_sure_stretch_beats_many_short_ones() -> None:
    chosen, gap = shortest_set(np.array([0.95, 0.05]), np.array([100.0, 1.0]), hold_share=0.9)
    assert list(chosen) == [True, False]
    # Relaxed: the short one whole, and 0.85 of the long one's 0.95.
    assert gap == pytest.approx(100 - (1 + 100 * 0.85 / 0.95))


def test_a_set_of_equal_stretches_is_certified_within_one() -> None:
    chosen, gap = shortest_set(np.full(100, 0.01), np.full(100, 10.0), hold_share=0.9)
    assert chosen.sum() == 90
    assert gap == pytest.approx(0, abs=1e-6)
