"""What to renew under a budget, as an integer programme.

For every main x = 1 where it is renewed, s = 1 where a site begins at it. A site begins where a
main is renewed and the one before it is not: s >= x - x before. It goes on to its least length:
x at a main >= the sum of s over the places from which a site that begins there reaches it (of which
one at most can be 1). The rule is that of least running times of machines, in the form that leaves
no fraction but what the budget makes (Rajan & Takriti 2005, Minimum up/down polytopes of the unit
commitment problem with start-up costs, IBM Research Report RC23628, from memory). Solved by HiGHS
through SciPy; it stops by the number of branches, never by the clock, so that every machine gives
the same list.
"""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np
from scipy.sparse import csr_array, vstack

from district.plan.bounded import Bounded, bounded, open_mains
from district.plan.priced import Offer
from district.plan.runs import Flags, Wholes
from district.plan.sites import allowed
from district.plan.solver import solved

GAP_SHARE = 1e-5
"""How near to the best the list must come where there is much to choose from."""
_FEW = 200
"""Of so few mains it must find the best."""
_BRANCHES, _FEW_BRANCHES = 20, 500
_OPEN = 500
"""Mains that may come to a good list, and that may leave it, in the programme; the bound that the
gap is told by holds for all. More of both, and more branches, cost ten times as long where many
mains are alike, and found no better list (measured on 30,000 mains of three rates)."""
_HELD_BACK = (0.0, 3e-6)
"""Shares by which the budget is held back where rounding would exceed it."""
_TIE_SHARE = 1e-7
"""By so little a main earlier in the order of ids is preferred: less than any figure is known."""
_SCALE = 1e4
"""The largest value as the solver sees it: its tolerances are absolute."""


def best_sites(
    offer: Offer, *, budget_currency: float, gap_share: float = GAP_SHARE
) -> tuple[Flags, float]:
    """The best sites within the budget, shape (N), and a value that no choice can pass.

    First a good list and a bound by a price on money; then, where they are further apart than
    `gap_share` of the bound or where there is little to choose from, the programme over the mains
    that may be on a better one. Of equal lists the one with the mains that come first.
    """
    count = len(offer.value)
    earlier = _TIE_SHARE * (1.0 - np.arange(count) / max(count, 1))
    asked = replace(offer, value=offer.value + np.abs(offer.value) * earlier)
    found = bounded(asked, budget_currency=budget_currency)
    chosen, bound = found.chosen, found.bound
    may, must, whole = open_mains(asked, found, most_count=_OPEN)
    few = int(may.sum()) <= _FEW and gap_share <= GAP_SHARE
    near = 0.0 if few else gap_share
    if bound - found.value > near * abs(bound):
        better, told = _better(asked, found, may, must, budget_currency, near)
        chosen, bound = better, min(bound, told) if whole else bound
    return chosen, max(bound, offer.worth(chosen)[0])


def _better(
    offer: Offer, found: Bounded, may: Flags, must: Flags, budget_currency: float, near: float
) -> tuple[Flags, float]:
    """The better of the list found and the programme's, and the programme's bound."""
    bound = np.inf
    for share in _HELD_BACK:
        chosen, told = _solved(offer, may, must, budget_currency * (1 - share), near)
        bound = told if share == 0.0 else bound
        value, cost = offer.worth(chosen)
        if cost <= budget_currency:
            better = value > found.value and allowed(offer.runs, offer.sites, chosen)
            return (chosen if better else found.chosen), max(bound, found.value)
    return found.chosen, max(bound, found.value)


def _solved(
    offer: Offer, may: Flags, must: Flags, budget_currency: float, near: float
) -> tuple[Flags, float]:
    """What the programme chooses of the mains that may be, none where it found nothing, and its
    bound."""
    place = np.flatnonzero(may)
    count = len(place)
    here = np.full(len(may), -1)
    here[place] = np.arange(count)
    reach = offer.sites.reach[place]
    # All from a beginning to its reach must be there, in a row.
    until = np.where(reach >= 0, here[reach], -1)
    begins = (until >= 0) & (until - np.arange(count) == reach - place)
    rows = [_begun(offer, place), _held(begins, until)]
    spent = np.concatenate([offer.cost_currency[place], np.full(count, offer.site_currency)])
    rows.append(csr_array(spent[None] / budget_currency))
    limit = np.zeros(sum(r.shape[0] for r in rows))
    limit[-1] = 1.0
    worth = np.concatenate([offer.value[place], np.full(count, offer.site_value)])
    scale = _SCALE / (float(np.abs(worth).max()) or 1.0)
    branches = _FEW_BRANCHES if count <= _FEW else _BRANCHES
    found = solved(
        worth * scale,
        vstack(rows, format="csc"),
        limit,
        np.concatenate([must[place], np.zeros(count)]),
        np.concatenate([np.ones(count), begins]),
        np.repeat([1, 0], count),
        {"mip_rel_gap": near, "node_limit": branches},
    )
    chosen = np.zeros(len(may), dtype=bool)
    if found.x is not None:
        chosen[place] = found.x[:count] > 0.5
    told = found.mip_dual_bound
    return chosen, np.inf if told is None else -float(told) / scale


def _begun(offer: Offer, place: Wholes) -> Any:
    """x - x before - s <= 0 by main."""
    count = len(place)
    number = np.arange(count)
    follows = np.flatnonzero(
        (np.diff(place, prepend=-2) == 1) & (np.diff(offer.runs.run[place], prepend=-1) == 0)
    )
    row = np.concatenate([number, follows, number])
    column = np.concatenate([number, follows - 1, count + number])
    sign = np.concatenate([np.ones(count), -np.ones(len(follows)), -np.ones(count)])
    return csr_array((sign, (row, column)), shape=(count, 2 * count))


def _held(begins: Flags, until: Wholes) -> Any:
    """Sum of s over the places from which a site reaches a main, - x <= 0 by main."""
    count = len(begins)
    number = np.arange(count)
    starts = number[begins]
    width = until[begins] - starts + 1
    column = np.repeat(starts, width)
    step = np.arange(len(column)) - np.repeat(np.cumsum(width) - width, width)
    row = np.concatenate([column + step, number])
    sign = np.concatenate([np.ones(len(column)), -np.ones(count)])
    return csr_array(
        (sign, (row, np.concatenate([count + column, number]))), shape=(count, 2 * count)
    )
