"""The posterior over spots against the rule of Bayes written out."""

from __future__ import annotations

import numpy as np
import pytest

from district.locate.posterior import TWO_SHARE, spread
from district.locate.spots import Evidence, Pairs
from tests.locate.streets import even, likely, walk


def test_prior_times_likelihoods_is_what_bayes_gives() -> None:
    street = walk([20.0, 30.0])
    random = np.random.default_rng(1)
    prior, one, two = random.random((3, 5))
    told = [Evidence("E", "pressure", "", np.log(one)), Evidence("E", "survey", "", np.log(two))]
    wanted = prior * one * two / (prior * one * two).sum()
    found = spread(np.log(prior), told, street)
    np.testing.assert_allclose(found.probability, wanted)
    np.testing.assert_allclose(found.single, wanted)
    assert found.two_share == 0


def test_a_constant_factor_and_unused_evidence_change_nothing() -> None:
    street = walk([50.0])
    told = Evidence("E", "pressure", "", likely(5, 2, 9.0))
    shifted = Evidence("E", "pressure", "", likely(5, 2, 9.0) - 4000.0)
    unused = Evidence("E", "survey", "before it began", np.zeros(5), used=False)
    first = spread(even(street), [told], street).probability
    np.testing.assert_allclose(spread(even(street), [shifted, unused], street).probability, first)
    assert first[2] == pytest.approx(9 / 13)


def paired(random: np.random.Generator, first: np.ndarray) -> tuple[Evidence, np.ndarray]:
    """Evidence over 6 spots with pairs of `first` and all; and likelihoods of all pairs (6, 6)."""
    both = random.random((6, 6))
    both = both + both.T
    share = np.full((6, 6), 0.7)
    one = random.random(6)
    pairs = Pairs(first, np.arange(6), np.log(both[first]), share[first])
    return Evidence("E", "pressure", "", np.log(one), pairs=pairs), both


def test_two_leaks_are_weighed_as_every_pair_written_out() -> None:
    random = np.random.default_rng(3)
    street, prior = walk([60.0]), random.dirichlet(np.ones(6))
    told, both = paired(random, np.arange(6))
    survey = random.random(6)
    found = spread(np.log(prior), [told, Evidence("E", "survey", "", np.log(survey))], street)
    single = prior * np.exp(told.log_likelihood) * survey
    double = np.outer(prior * survey, prior * survey) * both
    odds = TWO_SHARE * double.sum() / ((1 - TWO_SHARE) * single.sum())
    assert found.two_share == pytest.approx(odds / (1 + odds))
    share = found.two_share
    larger, smaller = (double.sum(axis=a) / double.sum() for a in (1, 0))
    assert found.larger is not None
    assert found.smaller is not None
    np.testing.assert_allclose(found.larger, larger)
    np.testing.assert_allclose(found.smaller, smaller)
    assert found.larger_share == pytest.approx(0.7)
    by_flow = 0.7 * larger + 0.3 * smaller
    np.testing.assert_allclose(
        found.probability, (1 - share) * single / single.sum() + share * by_flow
    )
    assert found.probability.sum() == pytest.approx(1)


def test_pairs_of_which_one_is_promising_stand_for_both_orders() -> None:
    random = np.random.default_rng(4)
    street, prior = walk([60.0]), random.dirichlet(np.ones(6))
    told, both = paired(random, np.array([1, 4]))
    double = np.outer(prior, prior) * both
    kept = double[[1, 4]].sum() + double[np.ix_([0, 2, 3, 5], [1, 4])].sum()
    single = (prior * np.exp(told.log_likelihood)).sum()
    odds = TWO_SHARE * kept / ((1 - TWO_SHARE) * single)
    assert spread(np.log(prior), [told], street).two_share == pytest.approx(odds / (1 + odds))


def test_a_record_speaks_of_one_of_two_leaks_by_their_flows() -> None:
    random = np.random.default_rng(5)
    street, prior = walk([60.0]), random.dirichlet(np.ones(6))
    told, both = paired(random, np.arange(6))
    heard = random.random(6)
    found = spread(np.log(prior), [told, Evidence("E", "correlator", "", np.log(heard))], street)
    double = np.outer(prior, prior) * both * (0.7 * heard[:, None] + 0.3 * heard)
    assert found.larger is not None
    np.testing.assert_allclose(found.larger, double.sum(axis=1) / double.sum())


def test_pairs_outside_the_zone_do_not_count() -> None:
    street = walk([30.0, 30.0])
    inside = walk([30.0])
    told, _ = paired(np.random.default_rng(6), np.arange(6))
    whole, part = (spread(even(w), [told], w) for w in (street, inside))
    assert len(whole.probability) == 6
    assert len(part.probability) == 3
    assert part.probability.sum() == pytest.approx(1)
