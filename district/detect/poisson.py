"""Limits of a rate from a count of rare things."""

from __future__ import annotations

from typing import Any

import numpy as np
from scipy.special import gammaincinv

Reals = np.ndarray[Any, np.dtype[np.float64]]


def rate_limits(low_count: Reals, high_count: Reals, *, span_year: float) -> tuple[Reals, Reals]:
    """95 % limits of a rate a year: the lower from `low_count`, the upper from `high_count`.

    Exact limits of a Poisson mean by chi-square quantiles (Garwood F. 1936, Biometrika 28,
    437-442, from memory): they are twice those of a gamma variable. They hold where nothing was
    counted too: none in a year leaves up to 3.7 a year. The two counts differ where it is not sure
    what is to be counted.

    >>> low, high = rate_limits(np.array([0.0]), np.array([0.0]), span_year=2.0)
    >>> float(low[0]), round(float(high[0]), 2)
    (0.0, 1.84)
    """
    counted = np.asarray(low_count, dtype=float)
    low = np.where(counted > 0, gammaincinv(np.maximum(counted, 1), 0.025), 0.0)
    high = gammaincinv(np.asarray(high_count, dtype=float) + 1, 0.975)
    return low / span_year, high / span_year
