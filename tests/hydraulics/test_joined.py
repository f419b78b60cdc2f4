"""Tests of `district.hydraulics.joined`."""

from __future__ import annotations

import numpy as np
import pytest

from district.hydraulics.joined import odd_power


@pytest.mark.parametrize("exponent", [0.4, 1.0, 1.852, 2.5])
def test_is_the_power_beyond_the_join_and_odd(exponent: float) -> None:
    x = np.array([0.1, 0.5, 3.0])
    value, slope = odd_power(x, exponent, 0.1)
    assert value == pytest.approx(x**exponent, rel=1e-14)
    assert slope == pytest.approx(exponent * x ** (exponent - 1), rel=1e-14)
    assert odd_power(-x, exponent, 0.1)[0] == pytest.approx(-value)


@pytest.mark.parametrize("exponent", [0.4, 1.0, 1.852, 2.5])
def test_meets_the_power_in_value_and_slope_and_rises_below(exponent: float) -> None:
    below, above = odd_power(np.array([0.1 - 1e-9, 0.1 + 1e-9]), exponent, 0.1)
    assert np.diff(below)[0] == pytest.approx(above[0] * 2e-9, rel=1e-3)
    assert above[0] == pytest.approx(above[1], rel=1e-6)
    x = np.linspace(-0.1, 0.1, 101)
    value, slope = odd_power(x, exponent, 0.1)
    assert (slope > 0).all()
    assert (np.diff(value) > 0).all()
    assert np.gradient(value, x)[1:-1] == pytest.approx(slope[1:-1], rel=0.01)
