"""The integer programme, against all choices."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from district.plan import programme
from district.plan.bounded import Bounded, bounded
from district.plan.priced import Offer, priced
from district.plan.programme import best_sites
from district.plan.runs import Runs
from district.plan.sites import allowed, sites_of
from tests.examples import examples
from tests.plan.small_offers import brute_force, offers


def drawn_offer(seed: int, count: int, runs_count: int) -> Offer:
    rng = np.random.default_rng(seed)
    run = np.sort(rng.integers(0, runs_count, count))
    run = np.unique(run, return_inverse=True)[1].astype(np.int64)
    length = rng.uniform(10, 60, count)
    runs = Runs(np.arange(count), run, ("S",) * count, length)
    sites = sites_of(runs, site_least_m=70.0)
    return Offer(runs, sites, rng.gamma(1.0, 100.0, count), length, 0.0, 20.0)


@settings(max_examples=examples(60), deadline=None)
@given(offers(12), st.integers(1, 60))
def test_it_agrees_with_brute_force_and_keeps_the_budget(offer: Offer, budget: int) -> None:
    chosen, bound = best_sites(offer, budget_currency=float(budget))
    value, cost = offer.worth(chosen)
    best = brute_force(offer, float(budget))
    assert allowed(offer.runs, offer.sites, chosen)
    assert cost <= budget
    assert value == pytest.approx(best, abs=1e-9)
    assert best <= bound + 1e-9


@pytest.mark.parametrize("seed", range(6))
def test_the_programme_alone_agrees_with_brute_force(
    seed: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    # From the worst list there is, with a bound that tells nothing: all is left to the programme.
    offer = drawn_offer(seed, 12, 3)
    budget = 0.4 * float(offer.cost_currency.sum())

    def nothing(asked: Offer, *, budget_currency: float) -> Bounded:
        everything = float(asked.value.sum()) + budget_currency
        return Bounded(np.zeros(12, bool), 0.0, everything, 0.0, priced(asked, 0.0))

    monkeypatch.setattr(programme, "bounded", nothing)
    chosen, bound = best_sites(offer, budget_currency=budget)
    best = brute_force(offer, budget)
    assert offer.worth(chosen)[0] == pytest.approx(best, rel=1e-9)
    assert bound == pytest.approx(best, rel=1e-6)


def test_of_two_that_are_alike_the_first_is_renewed() -> None:
    runs = Runs(np.arange(4), np.arange(4), tuple("ABCD"), np.full(4, 100.0))
    sites = sites_of(runs, site_least_m=50.0)
    offer = Offer(runs, sites, np.array([5.0, 9.0, 9.0, 9.0]), np.full(4, 10.0), 0.0, 1.0)
    chosen, _ = best_sites(offer, budget_currency=25.0)
    assert chosen.tolist() == [False, True, True, False]


def test_of_lists_that_are_alike_the_programme_finds_the_one_that_comes_first() -> None:
    # The first main alone pays best, but any two of the others are worth more.
    count = 7
    runs = Runs(np.arange(count), np.arange(count), tuple("ABCDEFG"), np.full(count, 100.0))
    sites = sites_of(runs, site_least_m=50.0)
    value = np.array([11.5] + [10.0] * 6)
    cost = np.array([11.0] + [10.0] * 6)
    chosen, _ = best_sites(Offer(runs, sites, value, cost, 0.0, 0.0), budget_currency=20.0)
    assert np.flatnonzero(chosen).tolist() == [1, 2]


def test_many_mains_come_near_the_bound_within_the_budget() -> None:
    offer = drawn_offer(7, 2000, 300)
    budget = 0.05 * float(offer.cost_currency.sum())
    chosen, bound = best_sites(offer, budget_currency=budget)
    value, cost = offer.worth(chosen)
    assert allowed(offer.runs, offer.sites, chosen)
    assert cost <= budget
    assert value <= bound <= value * (1 + 1e-4)
    # Better than the price alone.
    assert value >= bounded(offer, budget_currency=budget).value


def test_where_more_is_open_than_the_programme_takes_the_gap_is_told_by_the_price(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    offer = drawn_offer(7, 400, 40)
    budget = 0.05 * float(offer.cost_currency.sum())
    _, told = best_sites(offer, budget_currency=budget)
    monkeypatch.setattr(programme, "_OPEN", 3)
    chosen, bound = best_sites(offer, budget_currency=budget)
    assert offer.worth(chosen)[1] <= budget
    assert bound >= told
    assert bound >= offer.worth(chosen)[0]


def test_a_budget_that_rounding_would_exceed_is_held_back() -> None:
    # Both fit but for the last digits of the sum, within the solver's tolerance.
    runs = Runs(np.arange(3), np.arange(3), tuple("ABC"), np.full(3, 100.0))
    sites = sites_of(runs, site_least_m=50.0)
    offer = Offer(runs, sites, np.array([8.0, 7.0, 8.5]), np.array([10.0, 10.0, 19.0]), 0.0, 0.0)
    budget = 20.0 - 1e-9
    chosen, bound = best_sites(offer, budget_currency=budget)
    assert offer.worth(chosen) == (8.5, 19.0)
    assert bound >= 8.5


def test_dearer_mains_alone_change_nothing_in_scale() -> None:
    offer = drawn_offer(11, 200, 20)
    budget = 0.1 * float(offer.cost_currency.sum())
    chosen, _ = best_sites(offer, budget_currency=budget)
    for times in (1e-3, 1e5):
        scaled = replace(
            offer, cost_currency=offer.cost_currency * times, site_currency=20.0 * times
        )
        again, _ = best_sites(scaled, budget_currency=budget * times)
        assert (again == chosen).all()
