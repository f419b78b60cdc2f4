"""A good choice within the budget and a bound on the best, against all choices."""

from __future__ import annotations

from hypothesis import given, settings
from hypothesis import strategies as st

from district.plan.bounded import bounded, open_mains
from district.plan.priced import Offer
from district.plan.sites import allowed
from tests.examples import examples
from tests.plan.small_offers import brute_force, choices, offers

BUDGETS = st.integers(0, 60).map(float)


@settings(max_examples=examples(60), deadline=None)
@given(offers(), BUDGETS)
def test_the_best_lies_between_the_choice_and_the_bound(offer: Offer, budget: float) -> None:
    found = bounded(offer, budget_currency=budget)
    best = brute_force(offer, budget)
    value, cost = offer.worth(found.chosen)
    assert allowed(offer.runs, offer.sites, found.chosen)
    assert cost <= budget
    assert value == found.value
    assert found.value <= best + 1e-9
    assert best <= found.bound + 1e-9


@settings(max_examples=examples(40), deadline=None)
@given(offers(9), BUDGETS)
def test_better_choices_are_made_of_the_open_mains(offer: Offer, budget: float) -> None:
    found = bounded(offer, budget_currency=budget)
    may, must, whole = open_mains(offer, found, most_count=100)
    assert whole
    for choice in choices(offer):
        value, cost = offer.worth(choice)
        if cost <= budget and value > found.value + 1e-6:
            assert not choice[~may].any()
            assert choice[must].all()


@settings(max_examples=examples(20), deadline=None)
@given(offers(), BUDGETS)
def test_of_many_open_mains_the_likeliest_are_kept(offer: Offer, budget: float) -> None:
    found = bounded(offer, budget_currency=budget)
    every, sure, _ = open_mains(offer, found, most_count=100)
    few, fixed, whole = open_mains(offer, found, most_count=1)
    beside = few & ~found.chosen
    assert few[found.chosen].all()
    assert fixed[sure].all()
    assert int(beside.sum()) == min(1, int((every & ~found.chosen).sum()))
    assert int((found.chosen & ~fixed).sum()) == min(1, int((found.chosen & ~sure).sum()))
    assert whole == bool((few == every).all() and (fixed == sure).all())
    assert not (few & ~every).any()
