"""On which night a flow may have begun, whether it stepped or grew: the limits people are told.

A step dated too surely sends people to the wrong week where the leak has grown. So both are held
against the nights, Bayes' rule telling how far each is believed (Kass & Raftery 1995, Journal of
the American Statistical Association 90, from memory): base and size are integrated out, and what
is left is a probability of each first night.
"""

from __future__ import annotations

import numpy as np

from district.detect.baseline import Reals
from district.detect.change import tame

GROWN_NIGHTS = (10, 14, 20, 28, 40, 56, 80, 112)
"""Nights over which a flow may have grown; each as likely as another."""
_GREW = 0.2
"""So many of the changes grow: an assumption."""
_UNSURE = 1.3
"""Limits are those of noise so many times as large, as levels wander; set on drawn zones."""
_HELD = 0.95


def first_nights(
    x: Reals, begin: int, end: int, sigma_l_s: float, *, latest: int
) -> tuple[int, int] | None:
    """The nights that together hold 95 % of what is likely, first and last of them.

    Parameters: `x` flow in L/s, shape (nights,), NaN where missing, which rises once within
    `begin` .. `end` - 1, by a step or in a straight line to a level that it keeps, not later than
    on night `latest`. None where nothing rises or fewer than three nights are known.
    """
    known = np.isfinite(x[begin:end])
    count = int(known.sum())
    if count < 3 or sigma_l_s <= 0:
        return None
    y = np.zeros(end - begin)
    y[known] = tame(x[begin:end][known], sigma_l_s)
    y[known] -= y[known].mean()
    # Known nights and their sum from each night on: a ramp is the mean of the steps it passes, so
    # its sums are running sums of these (see `_log_odds`).
    more = max(GROWN_NIGHTS)
    left = np.concatenate([np.cumsum(known[::-1])[::-1], np.zeros(more)])
    above = np.concatenate([np.cumsum(y[::-1])[::-1], np.zeros(more)])
    tried = min(latest, end - 1) - begin
    each = np.log(_GREW / len(GROWN_NIGHTS))
    odds = np.stack([
        (np.log(1 - _GREW) if nights == 1 else each)
        + _log_odds(left, above, count, nights, sigma_l_s)[1 : tried + 1]
        for nights in (1, *GROWN_NIGHTS)
    ])  # fmt: skip
    if not odds.size or not np.isfinite(odds).any():
        return None
    chance = np.exp(odds - odds.max()).sum(axis=0)
    order = np.argsort(-chance, kind="stable")
    enough = 1 + int(np.searchsorted(np.cumsum(chance[order]), _HELD * chance.sum()))
    likely = order[:enough]
    return begin + 1 + int(likely.min()), begin + 1 + int(likely.max())


def _log_odds(left: Reals, above: Reals, count: int, nights: int, sigma_l_s: float) -> Reals:
    """Log odds of a rise over `nights` from each night on against none, shape (nights tried,);
    -inf where the flow does not rise.

    With steps s_0 .. s_(n-1) one night apart, the ramp is their mean z. Of known nights, s_j is 1
    on `left[j]`, so z.1 is the mean of these, and z.z the mean of `left` of the later of each two:
    the one k nights on is the later of 2k + 1 pairs. z.y is the mean of `above`.
    """
    length = len(left) - max(GROWN_NIGHTS)

    def over(values: Reals, weights: Reals) -> Reals:
        return np.asarray(np.convolve(values, weights[::-1], mode="valid")[:length])

    ones = np.full(nights, 1 / nights)
    total = over(left, ones)
    squares = over(left, (2 * np.arange(nights) + 1) / nights**2) - total**2 / count
    with_y = over(above, ones)
    usable = (squares > 1e-9) & (with_y > 0)
    gain = np.where(usable, with_y, 0.0) ** 2 / np.where(usable, squares, 1.0)
    reached = np.minimum(length - np.arange(length), nights) / nights
    log = gain / (2 * (sigma_l_s * _UNSURE) ** 2) + np.log(reached)
    return np.where(usable, log - 0.5 * np.log(np.where(usable, squares, 1.0)), -np.inf)
