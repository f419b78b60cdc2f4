"""The best at a price on money, against all choices."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from district.plan.priced import Offer, chosen_at, priced, with_and_without
from district.plan.runs import Runs
from district.plan.sites import allowed, sites_of
from tests.examples import examples
from tests.plan.small_offers import choices, offers

PRICES = st.integers(0, 12).map(lambda n: n / 4)


def net(offer: Offer, chosen: np.ndarray, price: float) -> float:
    value, cost = offer.worth(chosen)
    return value - price * cost


def test_a_site_is_no_shorter_than_it_must_be_however_dear_its_neighbours() -> None:
    runs = Runs(np.arange(3), np.zeros(3, dtype=np.int64), ("S",) * 3, np.ones(3))
    sites = sites_of(runs, site_least_m=2.0)
    offer = Offer(runs, sites, np.array([-3.0, 5.0, -9.0]), np.ones(3), 0.0, 0.0)
    found = priced(offer, 0.0)
    assert found.best(offer) == 2.0
    assert chosen_at(offer, found).tolist() == [True, True, False]


@settings(max_examples=examples(60), deadline=None)
@given(offers(), PRICES)
def test_it_is_the_best_of_all_choices(offer: Offer, price: float) -> None:
    found = priced(offer, price)
    best = max(net(offer, c, price) for c in choices(offer))
    assert found.best(offer) == pytest.approx(best, abs=1e-9)
    chosen = chosen_at(offer, found)
    assert allowed(offer.runs, offer.sites, chosen)
    assert net(offer, chosen, price) == pytest.approx(best, abs=1e-9)


@settings(max_examples=examples(40), deadline=None)
@given(offers(8), PRICES)
def test_the_best_with_a_main_and_without_it(offer: Offer, price: float) -> None:
    found = priced(offer, price)
    renewed, spared = with_and_without(offer, found)
    for place, run in enumerate(offer.runs.run):
        own = offer.runs.run == run
        here = [c for c in choices(offer) if not c[~own].any()]
        with_it = [net(offer, c, price) for c in here if c[place]]
        without = [net(offer, c, price) for c in here if not c[place]]
        assert renewed[place] == pytest.approx(max(with_it, default=-np.inf), abs=1e-9)
        assert spared[place] == pytest.approx(max(without), abs=1e-9)


@settings(max_examples=examples(20), deadline=None)
@given(offers())
def test_nothing_is_renewed_at_a_price_that_nothing_is_worth(offer: Offer) -> None:
    assert not chosen_at(offer, priced(offer, 1e3)).any()
