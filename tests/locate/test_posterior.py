"""The posterior over spots against the rule of Bayes written out."""

from __future__ import annotations

import numpy as np
import pytest

from district.locate.posterior import spread
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
    assert found.two is None


def test_a_constant_factor_and_unused_evidence_change_nothing() -> None:
    street = walk([50.0])
    told = Evidence("E", "pressure", "", likely(5, 2, 9.0))
    shifted = Evidence("E", "pressure", "", likely(5, 2, 9.0) - 4000.0)
    unused = Evidence("E", "survey", "before it began", np.zeros(5), used=False)
    first = spread(even(street), [told], street).probability
    np.testing.assert_allclose(spread(even(street), [shifted, unused], street).probability, first)
    assert first[2] == pytest.approx(9 / 13)


def test_two_leaks_are_mixed_in_by_their_probability() -> None:
    """The loggers fit spots 1 and 4 together a million times better than one leak anywhere."""
    street = walk([60.0])
    both = np.zeros((6, 6))
    both[1, 4] = both[4, 1] = np.log(1e6)
    share = np.full((6, 6), 0.5)
    share[1, 4], share[4, 1] = 0.75, 0.25
    pairs = Pairs(np.arange(6), np.zeros(6), both, share)
    told = Evidence("E", "pressure", "", np.zeros(6), pairs=pairs)
    found = spread(even(street), [told], street)
    assert found.two is not None
    assert found.two.two_share > 0.99
    np.testing.assert_allclose(found.single, 1 / 6)
    two = found.two.two_share
    np.testing.assert_allclose(
        found.probability, (1 - two) * found.single + two * found.two.by_flow
    )
    assert found.probability[1] == pytest.approx(0.75, abs=0.01)
