"""What to walk: whole stretches, or the piece that holds the leak."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from district.locate.pieces import SPARED_M, shortest_walk
from district.locate.search import shortest_set
from tests.locate.streets import walk

weights = st.lists(st.floats(1e-6, 1.0), min_size=30, max_size=30).map(np.array)


def test_all_probability_within_30_m_of_a_long_pipe_is_30_m_to_walk() -> None:
    street = walk([400.0, 100.0])
    probability = np.zeros(50)
    probability[12:15] = 1 / 3
    found = shortest_walk(street, probability, hold_share=0.9)
    assert list(found.chosen) == [True, False]
    assert (found.from_m[0], found.to_m[0], found.length_m) == (120.0, 150.0, 30.0)
    assert found.held_share == pytest.approx(1)
    assert (found.likeliest_m[0], found.likeliest_share[0]) == (30.0, pytest.approx(1))


def test_a_piece_is_widened_by_steps_where_it_holds_too_little() -> None:
    """A correlator that may have heard something else: 0.86 on 30 m, the rest anywhere."""
    street = walk([400.0])
    probability = np.full(40, 0.14 / 37)
    probability[12:15] = 0.86 / 3
    found = shortest_walk(street, probability, hold_share=0.9)
    assert found.likeliest_m[0] == 30.0
    assert found.held_share >= 0.9
    # 0.04 of 0.14 evenly on 370 m are 106 m; the steps double, so at most about twice that.
    assert 30 + 106 <= found.length_m <= 30 + 2 * 106 + 20
    assert found.from_m[0] <= 120 < 150 <= found.to_m[0]


def test_even_stretches_are_walked_whole() -> None:
    random = np.random.default_rng(5)
    lengths = [float(m) for m in 10 * random.integers(2, 30, 40)]
    street = walk(lengths)
    by_stretch = random.dirichlet(np.ones(40))
    share = (street.end_m - street.begin_m) / np.array(lengths)[street.stretch]
    found = shortest_walk(street, by_stretch[street.stretch] * share, hold_share=0.9)
    chosen, gap = shortest_set(by_stretch, np.array(lengths), hold_share=0.9)
    np.testing.assert_array_equal(found.chosen, chosen)
    assert found.gap_m == pytest.approx(gap)
    # One alone is walked only as far as the set needs.
    whole = np.isclose(found.from_m, 0) & np.isclose(found.to_m, lengths)
    assert (~whole).sum() <= 1
    assert found.held_share == pytest.approx(0.9, abs=0.005)


def test_a_slope_along_a_stretch_does_not_cut_it() -> None:
    """Pressure tells a street's one end from the other a little: the crew walks the street, but
    for what the last of the set can spare."""
    slope = np.linspace(1, 3, 20)
    street = walk([200.0, 200.0])
    found = shortest_walk(street, np.append(slope, slope) / slope.sum() / 2, hold_share=0.9)
    assert list(found.chosen) == [True, True]
    assert list(found.likeliest_m) == [200.0, 200.0]
    cut = found.from_m > 0
    assert cut.sum() == 1
    assert (found.to_m == 200).all()
    assert 0.9 <= found.held_share < 0.92


def test_a_leak_known_to_one_pipe_is_walked_as_far_as_it_must() -> None:
    probability = np.array([0.02, 0.03, 0.05, 0.2, 0.3, 0.2, 0.1, 0.06, 0.04])
    found = shortest_walk(walk([90.0]), probability, hold_share=0.9)
    assert (found.from_m[0], found.to_m[0]) == (20.0, 80.0)
    assert found.held_share == pytest.approx(0.91)


def test_a_short_stretch_is_not_cut() -> None:
    street = walk([30.0, 40.0])
    probability = np.array([1.0, 0, 0, 0, 0, 0, 0])
    assert shortest_walk(street, probability, hold_share=0.9).length_m == 30.0


@given(weights, st.floats(0.5, 0.99))
def test_the_set_holds_what_it_says_and_enough(raw: np.ndarray, hold: float) -> None:
    street = walk([100.0, 60.0, 80.0, 60.0])
    probability = raw**6 / (raw**6).sum()
    found = shortest_walk(street, probability, hold_share=hold)
    inside = (
        found.chosen[street.stretch]
        & (street.begin_m >= found.from_m[street.stretch] - 1e-9)
        & (street.end_m <= found.to_m[street.stretch] + 1e-9)
    )
    assert found.held_share == pytest.approx(probability[inside].sum())
    assert found.held_share >= hold - 1e-9
    assert found.length_m == pytest.approx((street.end_m - street.begin_m)[inside].sum())
    whole, _ = shortest_set(street.summed(probability), street.length_m(), hold_share=hold)
    # Pieces may miss the very best set of whole stretches by what they would spare.
    assert found.length_m <= street.length_m()[whole].sum() + SPARED_M


@pytest.mark.parametrize("noise", [0.3, 1.0])
def test_sets_hold_the_leaks_they_promise_to_and_hardly_more(noise: float) -> None:
    """Leaks drawn from a prior; three loggers that feel a leak by its place, and their noise: the
    set holds the place of 87 to 93 % of them."""
    random = np.random.default_rng(9)
    street = walk([float(m) for m in 10 * random.integers(3, 30, 60)])
    count = len(street.spot)
    prior = random.gamma(2.0, size=60)[street.stretch] * (street.end_m - street.begin_m)
    prior = prior / prior.sum()
    felt = np.cumsum(random.normal(0, 0.15, (3, count)), axis=1)
    held, inside, promised = [], [], []
    for leak in random.choice(count, 500, p=prior):
        read = felt[:, leak] + random.normal(0, noise, 3)
        log = -(((read[:, None] - felt) / noise) ** 2).sum(axis=0) / 2
        where = prior * np.exp(log - log.max())
        found = shortest_walk(street, where / where.sum(), hold_share=0.9)
        on = street.stretch[leak]
        inside.append(found.chosen[on])
        held.append(found.chosen[on] and found.from_m[on] <= street.begin_m[leak] < found.to_m[on])
        promised.append(found.held_share)
    assert 0.87 <= np.mean(held) <= 0.93
    assert np.mean(held) == pytest.approx(np.mean(promised), abs=0.03)
    # The stretch is in the set as often, but where a leak is known to one or two of them.
    assert np.mean(held) <= np.mean(inside) <= np.mean(held) + 0.06
