"""When a change in two cells began, with limits."""

from __future__ import annotations

import numpy as np

from district.balance.contest import Chance, Observed
from district.balance.limits import Array
from district.balance.shifts import WINDOW_DAYS

_LIKELY = 1.92  # half of the 95 % quantile of chi-square with one degree of freedom


def first_days(
    values: tuple[Array, Array],
    seen: Observed,
    made: Chance,
    *,
    cells: tuple[int, int],
    size_l_s: tuple[float, float],
    at: int,
) -> tuple[int, int]:
    """Earliest and latest likely first day (95 %) of a shift found `at` a position.

    Parameters: `values` residuals by night and by day, days x cells; the first of `cells` rose
    and the second fell by `size_l_s` (night, day). Both cells are weighed into one series, as the
    test does; the limits enclose every split whose log likelihood lies within 1.92 of the greatest.
    """
    begin, end = max(0, at - WINDOW_DAYS), min(len(values[0]), at + WINDOW_DAYS)
    series, variance = np.zeros(end - begin), 0.0
    a, b, c = (part[at] for part in seen.precision())
    for cell, sign in zip(cells, (1.0, -1.0), strict=True):
        weights = (
            sign * (a[cell] * size_l_s[0] + c[cell] * size_l_s[1]),
            sign * (c[cell] * size_l_s[0] + b[cell] * size_l_s[1]),
        )
        for weight, left, own in zip(weights, values, (made.night, made.day), strict=True):
            part = left[begin:end, cell]
            if abs(weight) < 1e-6 or not np.isfinite(part).any():
                continue
            series = series + weight * part
            variance += weight**2 * float(own.white[cell])
    known = np.flatnonzero(np.isfinite(series))
    if len(known) < 4 or variance <= 0:
        return at, at
    y = series[known] - series[known].mean()
    before = np.arange(1, len(y))
    gain = np.cumsum(y)[:-1] ** 2 * len(y) / (before * (len(y) - before)) / (2 * variance)
    likely = np.flatnonzero(gain >= gain.max() - _LIKELY)
    low = begin + int(known[before[likely[0]] - 1]) + 1
    high = begin + int(known[before[likely[-1]]])
    return min(low, at), max(high, at)
