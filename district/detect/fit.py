"""Does a flow grow night by night, or did it step? A broken line fitted against steps."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from district.detect.baseline import Reals
from district.detect.change import Change, tame

SHORTEST_NIGHTS = 10
"""A rise over fewer nights than this is a step."""
CLEARLY = 6.0
"""Fits clearly better: sum of squares lower by this many variances (odds of 20 to 1)."""
BEFORE_NIGHTS = 120
"""A line is fitted from so many nights before the first rise told: slow growth is told late."""
_STOPS = 12
_LIKELY = 1.92


@dataclass(frozen=True)
class Ramp:
    """Flow that rises by `growth_l_s_d` each night from `position` on, up to night `stop`."""

    position: int
    low: int
    high: int
    stop: int
    base_l_s: float
    growth_l_s_d: float
    error_l_s_d: float
    misfit: float
    """Sum of squared residuals over the variance of a night."""


def fit_ramp(x: Reals, begin: int, end: int, sigma_l_s: float) -> Ramp | None:
    """Least-squares line, flat until some night, then rising, then (perhaps) flat again.

    Every first night is tried with a dozen last nights, then a dozen near the best; None if
    none rises over at least `SHORTEST_NIGHTS`. Nights are positions in `x`;
    `begin` .. `end` - 1 are fitted.
    """
    t = (begin + np.flatnonzero(np.isfinite(x[begin:end]))).astype(float)
    if len(t) < SHORTEST_NIGHTS + 3:
        return None
    y = tame(x[t.astype(int)], sigma_l_s)
    best = _line(t, y, int(t[-1]), sigma_l_s)
    # A flow that still grows needs no stop: one is believed where it fits clearly better.
    spared = CLEARLY
    gap = max(1.0, (t[-1] - t[0]) / _STOPS)
    for coarse in (True, False):
        around = [t[0], t[-1]] if coarse or best is None else [best.stop - gap, best.stop + gap]
        from_night, to_night = np.clip(around, t[0], t[-1])
        tried = np.linspace(float(from_night), float(to_night), _STOPS + 1)
        for stop in np.unique(tried.astype(int)):
            ramp = _line(t, y, int(stop), sigma_l_s)
            if ramp is not None and (best is None or ramp.misfit < best.misfit - spared):
                best, spared = ramp, 0.0
    return best


def _line(t: Reals, y: Reals, stop: int, sigma_l_s: float) -> Ramp | None:
    bends = t[:-2][t[:-2] <= stop - SHORTEST_NIGHTS]
    if not len(bends):
        return None
    dy = y - y.mean()
    # Of z, the rise since a bend that ends at `stop`, sums alone are wanted: they follow from
    # running sums over the nights, counted from the stop so that none grows large.
    since = np.minimum(t - stop, 0.0)
    rises = since[: len(bends)]
    count, over, squares, with_y = (
        np.cumsum(part[::-1])[::-1][1 : len(bends) + 1]
        for part in (np.ones(len(t)), since, since**2, since * dy)
    )
    after_y = np.cumsum(dy[::-1])[::-1][1 : len(bends) + 1]
    total = over - rises * count
    zz = squares - 2 * rises * over + rises**2 * count - total**2 / len(t)
    zy = with_y - rises * after_y
    gain = np.where(zy > 0, zy**2 / zz, 0.0)
    j = int(np.argmax(gain))
    if gain[j] <= 0:
        return None
    near = bends[gain >= gain[j] - 2 * _LIKELY * sigma_l_s**2]
    growth = float(zy[j] / zz[j])
    return Ramp(
        position=int(bends[j]) + 1,
        low=int(near[0]) + 1,
        high=int(near[-1]) + 1,
        stop=stop,
        base_l_s=float(y.mean() - growth * total[j] / len(t)),
        growth_l_s_d=growth,
        error_l_s_d=float(sigma_l_s / np.sqrt(zz[j])),
        misfit=float((dy @ dy - gain[j]) / sigma_l_s**2),
    )


def steps_misfit(x: Reals, begin: int, end: int, sigma_l_s: float, at: Sequence[int]) -> float:
    """Sum of squared residuals over the variance of a night, levels changing at nights `at`."""
    t = begin + np.flatnonzero(np.isfinite(x[begin:end]))
    y = tame(x[t], sigma_l_s)
    part = np.searchsorted(np.asarray(at), t, side="right")
    count = np.bincount(part)
    mean = np.bincount(part, weights=y) / np.maximum(count, 1)
    return float(((y - mean[part]) ** 2).sum() / sigma_l_s**2)


def growing(
    x: Reals, sigma_l_s: float, found: Sequence[Change], first: int
) -> tuple[Ramp | None, int]:
    """Whether the rises from `found[first]` on are one growing flow, and how many they are.

    The line is taken where it fits clearly better than the steps: by the Bayesian information
    criterion (Schwarz 1978, Ann Stat 6, from memory), and by `CLEARLY` at least.
    """
    best: tuple[Ramp | None, int] = (None, 0)
    begin = found[first - 1].position if first else 0
    begin = max(begin, found[first].position - BEFORE_NIGHTS)
    last = first
    while last < len(found) and found[last].size_l_s > 0:
        end = found[last + 1].position if last + 1 < len(found) else len(x)
        ramp = fit_ramp(x, begin, end, sigma_l_s)
        if ramp is not None:
            at = [c.position for c in found[first : last + 1]]
            known = int(np.isfinite(x[begin:end]).sum())
            spared = (2 * len(at) + 1 - 4) * np.log(known)
            better = steps_misfit(x, begin, end, sigma_l_s, at) + spared - ramp.misfit
            if better > CLEARLY:
                best = (ramp, last - first + 1)
        last += 1
    return best
