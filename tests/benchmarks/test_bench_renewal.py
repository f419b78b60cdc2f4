"""The list of a town of 30,000 mains: what to renew under a budget, its variants and ten years.

    python -m pytest tests/benchmarks/test_bench_renewal.py --benchmark-only -n 0 -s

The reference is the same programme with fractions allowed, over all mains and without any bound
told to it: the least that must be solved to know how good a list may be. Its value is an
independent bound on the list too. Beside it stands a plain sort: mains by benefit over cost, each
a site of its own with the neighbours it needs to be long enough. Ratios hold when the machine's
speed drifts; all are processor time, so that other work on the machine counts for nothing.
"""

from __future__ import annotations

import resource
import time
from collections.abc import Callable
from typing import Any

import numpy as np
import pytest
from scipy.optimize import Bounds, LinearConstraint, milp
from scipy.sparse import csr_array, vstack

from district.plan import renewal_list, usual_budget_currency
from district.plan.benefit import benefit_currency
from district.plan.mains import mains_of
from district.plan.priced import Offer
from district.plan.programme import best_sites
from district.plan.runs import runs_of
from district.plan.selection import offered
from district.settings import Settings
from tests.plan.made_town import town

MAINS_COUNT = 30_000
MOST_S, MOST_LIST_S, MOST_MORE_MB = 2.0, 15.0, 700
MOST_TIMES, MOST_LIST_TIMES = 1.0, 15.0
MOST_GAP_SHARE = 1e-4
pytestmark = pytest.mark.benchmark(group="30,000 mains")


def processor_s(work: Callable[[], object]) -> float:
    before = time.process_time()
    work()
    return time.process_time() - before


@pytest.fixture(scope="module")
def case() -> Any:
    return town(MAINS_COUNT)


def offer_of(case: Any) -> tuple[Offer, float]:
    rates, costs, network = case
    mains = mains_of(rates, costs)
    renew = Settings().renew
    benefit = benefit_currency(
        mains, horizon_years=renew.horizon_years, discount_share=renew.discount_share
    )
    cost = mains.real("renewal_currency")
    runs = runs_of(mains.table, network)
    offer = offered(runs, benefit, cost, renew=renew, site_currency=renew.site_currency)
    return offer, float(cost.sum()) / 100


def with_fractions(offer: Offer, budget_currency: float) -> float:
    """The reference: what the best list with fractions of sites is worth."""
    count = len(offer.value)
    place = np.arange(count)
    follows = np.flatnonzero(np.diff(offer.runs.run, prepend=-1) == 0)
    begun = csr_array(
        (
            np.concatenate([np.ones(count), -np.ones(len(follows)), -np.ones(count)]),
            (
                np.concatenate([place, follows, place]),
                np.concatenate([place, follows - 1, count + place]),
            ),
        ),
        shape=(count, 2 * count),
    )
    starts = np.flatnonzero(offer.sites.reach >= 0)
    width = offer.sites.reach[starts] - starts + 1
    column = np.repeat(starts, width)
    row = column + np.arange(len(column)) - np.repeat(np.cumsum(width) - width, width)
    held = csr_array(
        (
            np.concatenate([np.ones(len(column)), -np.ones(count)]),
            (np.concatenate([row, place]), np.concatenate([count + column, place])),
        ),
        shape=(count, 2 * count),
    )
    money = np.concatenate([offer.cost_currency, np.full(count, offer.site_currency)])
    rows = vstack([begun, held, csr_array(money[None] / budget_currency)], format="csc")
    most = np.zeros(2 * count + 1)
    most[-1] = 1.0
    high = np.concatenate([np.ones(count), offer.sites.reach >= 0])
    found = milp(
        -np.concatenate([offer.value, np.full(count, offer.site_value)]) / 1e4,
        constraints=LinearConstraint(rows, -np.inf, most),
        bounds=Bounds(0, high),
    )
    return -1e4 * float(found.fun)


def by_plain_sort(offer: Offer, budget_currency: float) -> float:
    """What the plain sort is worth."""
    chosen = np.zeros(len(offer.value), dtype=bool)
    left = budget_currency
    for at in np.argsort(-offer.value / offer.cost_currency, kind="stable"):
        begin = at if offer.sites.reach[at] >= 0 else max(offer.sites.begin[at], 0)
        site = slice(begin, max(offer.sites.reach[begin], at) + 1)
        cost = float(offer.cost_currency[site].sum()) + offer.site_currency
        if offer.sites.reach[begin] >= 0 and not chosen[site].any() and cost <= left:
            chosen[site] = True
            left -= cost
    return offer.worth(chosen)[0]


def test_one_programme(benchmark: Any, case: Any) -> None:
    offer, budget = offer_of(case)
    bounds: list[float] = []
    unit = processor_s(lambda: bounds.append(with_fractions(offer, budget)))
    taken: list[float] = []
    found: list[Any] = []

    def work() -> None:
        found.clear()
        taken.append(processor_s(lambda: found.extend(best_sites(offer, budget_currency=budget))))

    benchmark.pedantic(work, rounds=3)
    chosen, bound = found
    value, cost = offer.worth(chosen)
    plain = by_plain_sort(offer, budget)
    print(
        f"\n{len(offer.value)} mains, {int(chosen.sum())} renewed: {min(taken):.2f} s, "
        f"{min(taken) / unit:.2f} times the programme with fractions ({unit:.1f} s); gap "
        f"{100 * (bound / value - 1):.4f} %, below the value with fractions by "
        f"{100 * (1 - value / bounds[0]):.4f} %; a plain sort saves {100 * plain / value:.1f} % "
        "of it"
    )
    assert cost <= budget
    assert value <= bounds[0] * (1 + 1e-7)
    assert value >= bounds[0] * (1 - 1e-3)
    assert plain < value <= bound <= value * (1 + MOST_GAP_SHARE)
    assert min(taken) < MOST_S
    assert min(taken) < MOST_TIMES * unit


def test_the_whole_list(benchmark: Any, case: Any) -> None:
    rates, costs, network = case
    offer, budget = offer_of(case)
    unit = processor_s(lambda: with_fractions(offer, budget))
    before = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1000
    settings = Settings()
    budget = usual_budget_currency(costs, settings=settings)
    taken: list[float] = []
    found: list[Any] = []

    def work() -> None:
        found.clear()
        taken.append(
            processor_s(
                lambda: found.append(
                    renewal_list(rates, costs, network, settings=settings, budget_currency=budget)
                )
            )
        )

    benchmark.pedantic(work, rounds=2)
    more = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1000 - before
    listed = found[0]
    print(
        f"\n{len(listed.pipes)} mains, {len(listed.projects)} sites, "
        f"{len(listed.variants)} variants, ten years: {min(taken):.1f} s, "
        f"{min(taken) / unit:.1f} times the programme with fractions ({unit:.1f} s), "
        f"{more:.0f} MB more"
    )
    assert len(listed.pipes) == MAINS_COUNT
    assert (listed.variants["spent_currency"] <= listed.variants["budget_currency"]).all()
    assert listed.variants["gap_share"].max() < MOST_GAP_SHARE
    assert more < MOST_MORE_MB
    assert min(taken) < MOST_LIST_S
    assert min(taken) < MOST_LIST_TIMES * unit
