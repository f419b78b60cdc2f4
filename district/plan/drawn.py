"""Draws of an amount whose 95 % limits are known, and the limits of what is made of draws."""

from __future__ import annotations

from typing import Any

import numpy as np
from scipy.special import ndtri

from district.plan.runs import Reals
from district.renewal_results import Draws

_LIMIT = 1.959964
"""Standard deviations from the middle to a 95 % limit."""
_SEED = 20_260_708
_LEAST_SHARE = 0.01
"""An amount of nothing that has an upper limit is drawn as this share of it."""
_AT_ONCE = 4096
_SAME_SHARE = 1e-5


def scores(count: int, what: int) -> Draws:
    """Standard normal scores, shape (count): the same every time, in an order of their own for each
    number `what`, so that two amounts are drawn apart from each other."""
    even = ndtri((np.arange(count) + 0.5) / max(count, 1))
    mixed = np.random.default_rng([_SEED, what]).permutation(even)
    return np.asarray(mixed, dtype=np.float32)


def drawn(amounts: Any, lows: Any, highs: Any, score: Draws) -> Draws:
    """Draws of N amounts with these 95 % limits, shape (N, draws).

    Lognormal: what a break or a metre costs is never below 0, and is a product of what is not
    known. One score serves all N: a price that is set too low is too low for every pipe, and limits
    of sums then add up rather than cancel. Where the lower limit is not above 0, it is taken to
    lie as far below the amount, by factor, as the upper one lies above it.
    """
    middle, low, high = (np.asarray(a, dtype=float) for a in (amounts, lows, highs))
    high = np.fmax(high, middle)
    middle = np.fmax(middle, _LEAST_SHARE * high)
    some = middle > 0
    safe = np.where(some, middle, 1.0)
    top = np.log(np.where(some, high, 1.0))
    bottom = np.where(low > 0, np.log(np.where(low > 0, low, 1.0)), 2 * np.log(safe) - top)
    bottom = np.where(some, np.fmin(bottom, np.log(safe)), 0.0)
    centre, spread = (top + bottom) / 2, (top - bottom) / (2 * _LIMIT)
    centre, spread = centre.astype(np.float32), spread.astype(np.float32)
    found = np.exp(centre[:, None] + spread[:, None] * score)
    found[~some] = 0.0
    return np.asarray(found, dtype=np.float32)


def limits(draws: Any, middle: Any) -> tuple[Reals, Reals]:
    """95 % limits of draws, shape (N, draws); the figure itself, shape (N), lies within them."""
    middle = np.asarray(middle, dtype=float)
    if not draws.shape[1]:
        return middle.copy(), middle.copy()
    low, high = np.empty(len(middle)), np.empty(len(middle))
    # Piece by piece: quantiles copy what they are told of.
    for first in range(0, len(middle), _AT_ONCE):
        here = slice(first, first + _AT_ONCE)
        low[here], high[here] = np.quantile(draws[here], (0.025, 0.975), axis=1)
    # Draws are single precision: what differs less is no limit.
    one = np.maximum(abs(low - middle), abs(high - middle)) <= _SAME_SHARE * abs(middle)
    low, high = np.where(one, middle, low), np.where(one, middle, high)
    return np.fmin(low, middle), np.fmax(high, middle)
