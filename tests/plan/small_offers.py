"""Small offers drawn at random, and the best of all choices from them."""

from __future__ import annotations

import numpy as np
from hypothesis import strategies as st

from district.plan.priced import Offer
from district.plan.runs import Runs
from district.plan.sites import allowed, sites_of


@st.composite
def offers(draw: st.DrawFn, most_count: int = 10) -> Offer:
    """Up to `most_count` mains in runs of any length; whole numbers, so that ties are common."""
    count = draw(st.integers(1, most_count))

    def wholes(low: int, high: int) -> np.ndarray:
        return np.array(draw(st.lists(st.integers(low, high), min_size=count, max_size=count)))

    new_run = np.array(draw(st.lists(st.booleans(), min_size=count, max_size=count)))
    new_run[0] = False
    run = np.cumsum(new_run).astype(np.int64)
    length = wholes(1, 8).astype(float)
    runs = Runs(np.arange(count), run, ("S",) * count, length)
    sites = sites_of(runs, site_least_m=float(draw(st.integers(0, 15))))
    return Offer(
        runs,
        sites,
        wholes(-3, 9).astype(float),
        wholes(1, 9).astype(float),
        -float(draw(st.integers(0, 4))),
        float(draw(st.integers(0, 6))),
    )


def choices(offer: Offer) -> list[np.ndarray]:
    """All that the rule of sites allows, whatever it costs."""
    count = len(offer.value)
    every = [np.array([n >> k & 1 for k in range(count)], dtype=bool) for n in range(1 << count)]
    return [c for c in every if allowed(offer.runs, offer.sites, c)]


def brute_force(offer: Offer, budget_currency: float) -> float:
    """The most that any choice within the budget is worth."""
    worth = [offer.worth(c) for c in choices(offer)]
    return max(value for value, cost in worth if cost <= budget_currency)
