"""Probabilities by part and by stretch with their limits."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Any

import numpy as np
import pandas as pd
import pytest

from district.locate.chances import Chances, chances, shares
from district.locate.prior import Prior, leak_prior
from district.locate.spots import Evidence, Sought, Spots, spots_of
from district.locate.walk import walk_of, whole_walk
from district.locate.zone_search import search_zone

Make = Callable[..., Any]
LEAKS = (Sought("E1", "V0", "leak", 0.6, 0.5, 0.7), Sought("E2", "V0", "leak", 0.2, 0.1, 0.3))


@pytest.fixture
def drawn(network_of: Make, pipes_of: Make, breaks_of: Make) -> tuple[Prior, Spots]:
    network = network_of(pipes_of(60, cells=2, seed=4))
    prior = leak_prior(network, breaks_of([("2019-01-01", "P00003")]), year=2024)
    return prior, spots_of(network, prior)


def made(
    prior: Prior, spots: Spots, leaks: Sequence[Sought], *, times: float = 1.0
) -> tuple[Chances, Chances]:
    """E1 `times` as likely on the first pipe of zone V0, E2 on its last; stretches of two pipes."""
    cell = (prior.table["cell_id"] == "V1").to_numpy(dtype=np.int64)
    stretch = np.lexsort((np.arange(60), cell)).argsort() // 2
    whole = whole_walk(spots, prior.table.index, stretch)
    searches = []
    if leaks:
        own = np.flatnonzero(cell == 0)
        among = np.isin(np.arange(30), stretch[own])
        walk = walk_of(whole, among)
        told = {}
        for leak in leaks:
            heard = own[0] if leak.sought_id == "E1" else own[-1]
            log = np.where(spots.pipe == heard, np.log(times), 0.0)
            told[leak.sought_id] = [Evidence(leak.sought_id, "pressure", "", log)]
        log_prior = np.log(spots.leaks_per_year[walk.spot])
        searches.append(
            search_zone("V0", walk, log_prior, leaks, told, prior_said="", hold_share=0.9)
        )
    return chances(prior, spots, cell, searches, stretch)


def test_shares_sum_to_one_in_each_group_and_are_even_where_all_are_nothing() -> None:
    found = shares(np.array([1.0, 3.0, 0.0, 0.0]), np.array([0, 0, 1, 1]))
    np.testing.assert_allclose(found, [0.25, 0.75, 0.5, 0.5])
    both = shares(np.array([[1.0, 0.0], [3.0, 0.0]]), np.array([0, 0]))
    np.testing.assert_allclose(both, [[0.25, 0.5], [0.75, 0.5]])


def test_evidence_that_says_nothing_leaves_prior_and_limits(drawn: tuple[Prior, Spots]) -> None:
    without, with_search = made(*drawn, ())[0], made(*drawn, LEAKS[:1])[0]
    for name, column in without.columns().items():
        np.testing.assert_allclose(with_search.columns()[name], column, rtol=1e-4)
    assert without.any_leak_share[0] is not without.probability_share[0]
    np.testing.assert_array_equal(without.any_leak_share[0], without.probability_share[0])


def test_limits_are_those_of_draws_weighed_as_the_evidence_weighs(
    drawn: tuple[Prior, Spots],
) -> None:
    prior, spots = drawn
    found = made(prior, spots, LEAKS[:1], times=20.0)[0]
    own = np.flatnonzero((prior.table["cell_id"] == "V0").to_numpy())
    weight = np.where(np.arange(len(own)) == 0, 20.0, 1.0)
    expected = prior.table["leaks_per_year"].to_numpy()[own] * weight
    np.testing.assert_allclose(found.probability_share[0][own], expected / expected.sum())
    draws = prior.draws[own] * weight[:, None]
    draws = np.sort(draws / draws.sum(axis=0), axis=1)
    np.testing.assert_allclose(found.probability_share[2][own[0]], draws[0, 194], rtol=1e-4)


def test_any_leak_is_one_less_the_chance_that_none_is_there(drawn: tuple[Prior, Spots]) -> None:
    prior, spots = drawn
    part, whole = made(prior, spots, LEAKS, times=20.0)
    one, two = (made(prior, spots, (leak,), times=20.0)[0] for leak in LEAKS)
    own = (prior.table["cell_id"] == "V0").to_numpy()
    missed = [1 - c.probability_share[0][own] for c in (one, two)]
    np.testing.assert_allclose(part.any_leak_share[0][own], 1 - missed[0] * missed[1])
    assert (part.any_leak_share[0][own] > part.probability_share[0][own]).all()
    assert part.probability_share[0][own].sum() == pytest.approx(1)
    assert whole.probability_share[0].sum() == pytest.approx(2)
    for estimate in (part.any_leak_share, whole.any_leak_share):
        assert (estimate[1] <= estimate[0]).all()
        assert (estimate[0] <= estimate[2]).all()


def test_stretches_hold_what_their_parts_hold(drawn: tuple[Prior, Spots]) -> None:
    part, whole = made(*drawn, LEAKS, times=5.0)
    for name in ("prior_leaks_per_year", "probability_share"):
        total = pd.Series(getattr(part, name)[0]).sum()
        assert getattr(whole, name)[0].sum() == pytest.approx(total)
    assert len(whole.any_leak_share[0]) == 30
