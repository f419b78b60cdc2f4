"""Two leaks against one, every pair written out."""

from __future__ import annotations

import numpy as np
import pytest

from district.locate.posterior import spread
from district.locate.spots import Evidence, Pairs
from district.locate.two_leaks import TWO_SHARE, TwoLeaks
from tests.locate.streets import walk

STREET = walk([60.0])


def made(
    random: np.random.Generator, place_of: np.ndarray, *others: Evidence, count: int = 6
) -> tuple[np.ndarray, np.ndarray, np.ndarray, TwoLeaks]:
    """Prior, likelihoods of one and of two by place, and what `spread` makes of them."""
    prior, one = random.dirichlet(np.ones(len(place_of))), random.random(count)
    two = random.random((count, count))
    two = two + two.T
    # The larger leak is at the place with the lower number.
    share = np.where(np.arange(count)[:, None] < np.arange(count), 0.7, 0.3)
    np.fill_diagonal(share, 0.5)
    pairs = Pairs(place_of, np.log(one), np.log(two), share)
    log = np.log(one)[np.maximum(place_of, 0)]
    told = Evidence("E", "pressure", "", log, pairs=pairs)
    found = spread(np.log(prior), [told, *others], STREET).two
    assert found is not None
    return prior, one, two, found


def odds(found: TwoLeaks) -> float:
    return found.two_share / (1 - found.two_share) * (1 - TWO_SHARE) / TWO_SHARE


def test_two_are_weighed_as_every_pair_written_out() -> None:
    prior, one, two, found = made(np.random.default_rng(3), np.arange(6))
    both = np.outer(prior, prior) * two
    assert odds(found) == pytest.approx(both.sum() / (prior * one).sum())
    upper, half = np.triu(both, 1), np.diag(both)
    # Either order of a pair is the same two leaks.
    larger = (2 * upper.sum(axis=1) + half) / both.sum()
    smaller = (2 * upper.sum(axis=0) + half) / both.sum()
    np.testing.assert_allclose(found.larger, larger)
    np.testing.assert_allclose(found.smaller, smaller)
    even = half.sum() / both.sum()
    assert found.larger_share == pytest.approx(0.7 * (1 - even) + 0.5 * even)
    part = 2 * (0.7 * upper.sum(axis=1) + 0.3 * upper.sum(axis=0)) + half
    np.testing.assert_allclose(found.by_flow, part / both.sum())


def test_a_survey_speaks_of_both_and_a_record_of_either_by_flow() -> None:
    random = np.random.default_rng(5)
    clear, heard = random.random((2, 6))
    clear = clear / clear.max()
    others = (
        Evidence("E", "survey", "", np.log(clear) - 7.0),
        Evidence("E", "correlator", "", np.log(heard)),
    )
    prior, one, two, found = made(random, np.arange(6), *others)
    part = np.where(np.arange(6)[:, None] < np.arange(6), 0.7, 0.3)
    np.fill_diagonal(part, 0.5)
    record = part * heard[:, None] + (1 - part) * heard
    both = np.outer(prior * clear, prior * clear) * two * record
    assert odds(found) == pytest.approx(both.sum() / (prior * clear * heard * one).sum())
    upper = np.triu(both, 1).sum(axis=1)
    np.testing.assert_allclose(found.larger, (2 * upper + np.diag(both)) / both.sum())


def test_places_of_several_spots_share_as_one_leak_would() -> None:
    place_of = np.array([0, 0, 1, 1, 2, 2])
    prior, one, two, found = made(np.random.default_rng(7), place_of, count=3)
    weight = np.bincount(place_of, prior)
    both = np.outer(weight, weight) * two
    assert odds(found) == pytest.approx(both.sum() / (weight * one).sum())
    larger = (2 * np.triu(both, 1).sum(axis=1) + np.diag(both)) / both.sum()
    np.testing.assert_allclose(np.bincount(place_of, found.larger), larger)
    np.testing.assert_allclose(found.larger[:2] / found.larger[0], prior[:2] / prior[0])


def test_spots_without_a_place_hold_none_of_two() -> None:
    place_of = np.array([0, 1, 2, 3, -1, -1])
    *_, found = made(np.random.default_rng(8), place_of, count=4)
    assert found.larger[4:].sum() == found.smaller[4:].sum() == 0
    for where in (found.larger, found.smaller, found.by_flow):
        assert where.sum() == pytest.approx(1)
