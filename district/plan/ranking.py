"""How many breaks the first share of the length holds, by a ranking of the pipes."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import numpy as np

from district.break_rates import Reals
from district.plan.drawn import limits

SHARES: Reals = np.linspace(0.0, 1.0, 101)
TOPS = (0.05, 0.10, 0.20)
BOOTSTRAPS = 400
_SEED = 19_790_504

Capture = Callable[[Reals], tuple[Reals, float]]
"""Weights of the pipes -> captured share at each of SHARES, and the area under the curve."""


def capture_of(score: Reals, length_m: Reals, breaks: Reals) -> Capture:
    """The curve of captured breaks as a function of how often each pipe counts.

    Parameters, shape (pipes,): `score` by which pipes are ranked, the highest first, and the
    `breaks` they had afterwards. Pipes of one score are not told apart: over their length the
    curve is straight, as it would be in the mean of all their orders. Source of the measure: share
    of later breaks in the first x % of length, and the area under that curve (from memory; no
    published example is at hand).
    """
    order = np.argsort(-score, kind="stable")
    ordered = score[order]
    starts = np.flatnonzero(np.r_[True, ordered[1:] != ordered[:-1]])
    length, broke = length_m[order], breaks[order]

    def captured(weight: Reals) -> tuple[Reals, float]:
        own = weight[order]
        far = np.add.reduceat(own * length, starts).cumsum()
        found = np.add.reduceat(own * broke, starts).cumsum()
        if far[-1] <= 0 or found[-1] <= 0:
            return np.full(len(SHARES), np.nan), float("nan")
        x, y = np.append(0.0, far / far[-1]), np.append(0.0, found / found[-1])
        return np.interp(SHARES, x, y), float(np.trapezoid(y, x))

    return captured


def bootstrapped(captures: dict[str, Capture], count: int) -> dict[str, tuple[Reals, Reals]]:
    """Curves, shape (BOOTSTRAPS, shares), and areas, shape (BOOTSTRAPS,), of each ranking with the
    pipes drawn anew, the same pipes for all rankings so that they can be compared.

    Source: Efron & Tibshirani 1993, An Introduction to the Bootstrap (from memory). `count` of
    pipes. Draws without a break are left out as NaN.
    """
    random = np.random.default_rng(_SEED)
    told: dict[str, list[tuple[Reals, float]]] = {name: [] for name in captures}
    even = np.full(count, 1.0 / count)
    for _ in range(BOOTSTRAPS):
        weight = random.multinomial(count, even).astype(float)
        for name, capture in captures.items():
            told[name].append(capture(weight))
    return {
        name: (np.array([c for c, _ in rows]), np.array([a for _, a in rows]))
        for name, rows in told.items()
    }


def with_limits(value: float, drawn: Any) -> tuple[float, float, float]:
    """A figure with the 95 % limits of its draws about it, those that are known."""
    known = drawn[np.isfinite(drawn)]
    if not len(known) or not np.isfinite(value):
        return value, float("nan"), float("nan")
    low, high = limits(known[None, :], [value])
    return value, float(low[0]), float(high[0])
