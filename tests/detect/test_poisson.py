"""Limits of rare counts against the sums they are defined by, and values of the table."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.optimize import brentq
from scipy.stats import poisson

from district.detect.poisson import rate_limits


@pytest.mark.parametrize("count", [0, 1, 2, 5, 17, 300])
def test_limits_leave_two_and_a_half_per_cent_on_either_side(count: int) -> None:
    """Garwood's definition, solved here from the sums of the Poisson distribution."""
    (low,), (high,) = rate_limits(np.array([count]), np.array([count]), span_year=1.0)
    top = count * 3 + 30
    assert high == pytest.approx(brentq(lambda m: poisson.cdf(count, m) - 0.025, 1e-9, top))
    if count:
        assert low == pytest.approx(brentq(lambda m: poisson.sf(count - 1, m) - 0.025, 1e-9, top))
    else:
        assert low == 0.0


@pytest.mark.parametrize(
    ("count", "low", "high"),
    # Garwood 1936, table of 95 % limits, from memory.
    [(0, 0.0, 3.69), (1, 0.025, 5.57), (2, 0.242, 7.22), (5, 1.62, 11.67), (10, 4.80, 18.39)],
)
def test_limits_of_the_table(count: int, low: float, high: float) -> None:
    found = rate_limits(np.array([count]), np.array([count]), span_year=1.0)
    assert [float(limit[0]) for limit in found] == pytest.approx([low, high], abs=0.006)


def test_a_rate_is_by_the_year() -> None:
    low, high = rate_limits(np.array([10.0]), np.array([10.0]), span_year=4.0)
    assert (float(low[0]), float(high[0])) == pytest.approx((4.795 / 4, 18.39 / 4), abs=0.002)
