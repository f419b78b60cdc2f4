"""What picking the lowest of many hours does to the use and the noise in it.

The hour is picked because its flow is low, so what varies in it is low too: taking the mean use
off its inflow would tell too little leakage. Hour means of one night are taken as normal, each
moving into the next by the share of their hours in common.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from district.estimates import Array

SPANS_H = (0.0, 1.0, 2.0, 3.0, 5.0, 7.0, 11.0)
"""How far the hours sought among start apart, first to last."""
STEPS_H = (1 / 60, 1 / 12, 1 / 4, 1 / 2, 1.0)
SHORTFALLS = (
    (0.0, 1.022, 1.408, 1.637, 1.912, 2.081, 2.298),
    (0.0, 0.916, 1.294, 1.515, 1.784, 1.953, 2.172),
    (0.0, 0.784, 1.139, 1.354, 1.620, 1.788, 2.002),
    (0.0, 0.683, 1.009, 1.212, 1.468, 1.632, 1.843),
    (0.0, 0.564, 0.846, 1.029, 1.267, 1.424, 1.629),
)
"""Expected minimum below the mean, in standard deviations of one hour: rows by step, columns by
span. Last row: normal order statistics of 2, 3, 4, 6, 8 and 12 (Harter 1961, Biometrika 48,
from memory). The others: means over 40 000 drawn nights and more, to 0.005."""
VARIANCES = (1.0, 0.682, 0.559, 0.492, 0.416, 0.373, 0.324)
"""Variance of that minimum over that of one hour (order statistics as above; the drawn nights
show the same for every step to 0.05)."""
SKEW_OVER_VARIATION = 1.17
"""Skewness of use in bursts over its coefficient of variation: 1.68 / 1.2**1.5 / 1.2**0.5 for
bursts that vary by 0.45 of their mean (compound Poisson, hand calculation)."""


class Picked(NamedTuple):
    """What the lowest hour holds less than a mean hour does, and what is left to vary; L/s."""

    use: Array
    """Expected use below the mean."""
    noise: Array
    """Expected noise of the zone meters below zero."""
    spread: Array
    """Standard deviation of both together: how many hours compete, and how much use varies
    beyond what is allowed for, are known between limits."""
    share: Array
    """Standard deviation of use and of noise that is left, over that of an hour at large."""


def expected_shortfall(span_h: Array, *, step_h: Array) -> tuple[Array, Array]:
    """Expected minimum of moving hours below their mean, and its variance, of variance 1.

    `span_h` from the start of the first hour to that of the last, `step_h` from each to the next
    (broadcast together). Between the table's entries linear in log(1 + span) and the root of the
    step; beyond them as at the end.

    >>> [round(float(x), 3) for x in expected_shortfall(np.array(5.0), step_h=np.array(1.0))]
    [1.267, 0.416]
    """
    along, root = np.broadcast_arrays(np.log1p(span_h), np.sqrt(step_h))
    spans = np.log1p(SPANS_H)
    by_step = np.stack([np.interp(along, spans, row) for row in SHORTFALLS], axis=-1)
    roots = np.sqrt(STEPS_H)
    at = np.clip(np.searchsorted(roots, root) - 1, 0, len(roots) - 2)
    part = np.clip((root - roots[at]) / (roots[at + 1] - roots[at]), 0.0, 1.0)
    before = np.take_along_axis(by_step, at[..., None], axis=-1)[..., 0]
    after = np.take_along_axis(by_step, at[..., None] + 1, axis=-1)[..., 0]
    return np.asarray(before + part * (after - before)), np.interp(along, spans, VARIANCES)


def picked_lowest(
    use_l_s: Array,
    *,
    use_deviation_l_s: Array,
    noise_deviation_l_s: Array,
    other_deviation_l_s: Array,
    seen_deviation_l_s: Array,
    step_h: Array,
    least_span_h: float,
    most_span_h: float,
) -> Picked:
    """What picking its lowest hour does to the use in it and to the noise of its inflow.

    Parameters: mean `use_l_s` of users without interval meters and its standard deviation over
    an hour, that of the zone meters' steps, and that of use measured in the same hour, which is
    told and so takes part in the picking only; `seen_deviation_l_s` of the lowest hour from night
    to night as the record shows it, measured use off; arrays that broadcast. `least_span_h`: hours
    whose mean use is the allowance; `most_span_h`: all that are searched. Use in the other hours
    is higher on the whole, so that they compete less: the shortfall lies between those of the two.
    Where nights differ by more than use and noise make, because use comes in larger draws or
    because leakage itself varies, it reaches to as many times what they make.
    """
    total = np.sqrt(use_deviation_l_s**2 + noise_deviation_l_s**2 + other_deviation_l_s**2)
    apart = np.where(total > 0, total, 1.0)
    use, noise = use_deviation_l_s**2 / apart, noise_deviation_l_s**2 / apart
    told = (use_deviation_l_s**2 + noise_deviation_l_s**2) / apart**2
    # Use is skewed, its low side short: x = z + skew / 6 (z² - 1), the first term of Cornish and
    # Fisher; less so the less it weighs.
    variation = use_deviation_l_s / np.where(use_l_s > 0, use_l_s, np.inf)
    skew = SKEW_OVER_VARIATION * variation * (use_deviation_l_s / apart) ** 3
    ends, shares = [], []
    for span_h, grows in ((least_span_h, False), (most_span_h, True)):
        low, left = expected_shortfall(np.array(max(span_h, 0.0)), step_h=step_h)
        share = np.sqrt(1.0 - told * (1.0 - left * np.maximum(1.0 - skew * low / 3.0, 0.2) ** 2))
        low = np.maximum(low - skew / 6.0 * (low**2 + left - 1.0), 0.0)
        made = share * np.sqrt(told) * apart
        seen = np.maximum(seen_deviation_l_s / np.where(made > 0, made, np.inf), 1.0)
        ends.append((low * use * (seen if grows else 1.0), low * noise))
        shares.append(share)
    (least, quiet), (most, loud) = ends
    least, most = (np.minimum(x, np.maximum(use_l_s, 0.0)) for x in (least, most))
    # Anywhere between the two ends is as likely.
    spread = np.hypot(most - least, loud - quiet) / np.sqrt(12.0)
    found = ((least + most) / 2.0, (quiet + loud) / 2.0, spread, sum(shares) / 2.0)
    return Picked(*(np.asarray(x, dtype=float) for x in found))
