"""A good list within a budget, what no list can pass, and what cannot be on a better one.

A budget is paid for by a price on money (Lagrange multiplier): at any price, the best that the runs
reach and what the budget is worth at it lie together above what the budget can buy. The price at
which that is least leaves little room (Everett 1963, Generalized Lagrange multiplier method,
Operations Research 11(3) 399, from memory).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from district.plan.priced import Offer, Priced, chosen_at, priced, with_and_without
from district.plan.runs import Flags, Reals
from district.plan.sites import site_numbers

_PRICES = 60
"""Prices tried at most; a dozen are usual."""
_CHEAPER = (0.98, 0.95, 0.9, 0.8, 0.65, 0.5, 0.3, 0.1, 0.0)
"""Shares of the price found, at which the rest of the budget is filled."""
_SAME_SHARE = 1e-9


@dataclass(frozen=True, eq=False)
class Bounded:
    """A choice within the budget, its value, a value that none can pass, and the best at the price
    the bound is from."""

    chosen: Flags
    value: float
    bound: float
    price: float
    at_price: Priced


def bounded(offer: Offer, *, budget_currency: float) -> Bounded:
    """A good choice within the budget, and the least bound on the best."""
    found = priced(offer, 0.0)
    low, high = chosen_at(offer, found), np.zeros(len(offer.value), dtype=bool)
    value, cost = offer.worth(low)
    if cost <= budget_currency:
        return Bounded(low, value, value, 0.0, found)
    price = 0.0
    for _ in range(_PRICES):
        (more, dear), (less, cheap) = offer.worth(low), offer.worth(high)
        price = max((more - less) / (dear - cheap), 0.0)
        found = priced(offer, price)
        here = chosen_at(offer, found)
        value, cost = offer.worth(here)
        # No better than the two it lies between: no other price tells more.
        if value - price * cost <= more - price * dear + _SAME_SHARE * abs(more):
            break
        low, high = (low, here) if cost <= budget_currency else (here, high)
    best = _filled(offer, high, low, budget_currency)
    for share in _CHEAPER:
        more_of_it = chosen_at(offer, priced(offer, share * price))
        best = _filled(offer, best, more_of_it, budget_currency)
    value = offer.worth(best)[0]
    bound = found.best(offer) + price * budget_currency
    return Bounded(best, value, max(bound, value), price, found)


def open_mains(offer: Offer, found: Bounded, *, most_count: int) -> tuple[Flags, Flags, bool]:
    """Mains that may be on a better list than the one found, mains that must be on every such list,
    each of shape (N), and whether that holds for all: at most `most_count` mains beside the list
    found may come to it, and as many of it may leave it, the likeliest; the others stay."""
    held, without = with_and_without(offer, found.at_price)
    best = found.at_price.through[offer.sites.last]
    room = found.bound - found.value + _SAME_SHARE * abs(found.bound)
    comes = ~found.chosen & (best - held <= room)
    leaves = found.chosen & (best - without <= room)
    first = _likeliest(best - held, comes, most_count)
    last = _likeliest(best - without, leaves, most_count)
    whole = bool((first == comes).all() and (last == leaves).all())
    return first | found.chosen, found.chosen & ~last, whole


def _likeliest(loss: Reals, of: Flags, most_count: int) -> Flags:
    """As many of these at most, those of the least loss."""
    place = np.flatnonzero(of)
    kept = np.zeros(len(of), dtype=bool)
    kept[place[np.argsort(loss[place], kind="stable")[:most_count]]] = True
    return kept


def _filled(offer: Offer, chosen: Flags, other: Flags, budget_currency: float) -> Flags:
    """The choice with as many runs of the other one as pay and as the budget has room for, those
    that bring most for each unit of money first."""
    value, cost = _by_run(offer, chosen)
    other_value, other_cost = _by_run(offer, other)
    more, dearer = other_value - value, other_cost - cost
    left = budget_currency - float(cost.sum())
    better = np.flatnonzero(more > 0)
    rate = np.where(
        dearer[better] > 0, more[better] / np.where(dearer > 0, dearer, 1)[better], np.inf
    )
    taken = np.zeros(len(value), dtype=bool)
    for run in better[np.argsort(-rate, kind="stable")]:
        if dearer[run] <= left:
            taken[run] = True
            left -= dearer[run]
    return np.where(taken[offer.runs.run], other, chosen)


def _by_run(offer: Offer, chosen: Flags) -> tuple[Reals, Reals]:
    run = offer.runs.run
    number = site_numbers(offer.runs, chosen)
    begins = chosen & (np.diff(number, prepend=-1) != 0)
    size = int(run[-1]) + 1 if len(run) else 0
    count = np.bincount(run[begins], minlength=size)
    value = np.bincount(run[chosen], offer.value[chosen], minlength=size)
    cost = np.bincount(run[chosen], offer.cost_currency[chosen], minlength=size)
    return value + offer.site_value * count, cost + offer.site_currency * count
