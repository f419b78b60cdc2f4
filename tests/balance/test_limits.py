"""Limits by variance: sums, differences, products; steps and lumps."""

from __future__ import annotations

import numpy as np
import pytest

from district.balance import limits
from district.balance.limits import Estimate, combine_limits, estimate, multiply_limits


def test_variances_add_for_sums_and_for_differences() -> None:
    # 3-4-5, by hand.
    first, second = estimate(10.0, 7.0, 13.0), estimate(4.0, 0.0, 8.0)
    assert tuple(map(float, combine_limits(first, second))) == (14.0, 9.0, 19.0)
    assert tuple(map(float, combine_limits(first, second, signs=(1, -1)))) == (6.0, 1.0, 11.0)


def test_a_subtracted_part_swaps_its_unequal_distances() -> None:
    exact, lopsided = estimate(10.0), estimate(2.0, 1.0, 5.0)
    assert tuple(map(float, combine_limits(exact, lopsided, signs=(1, -1)))) == (8.0, 5.0, 9.0)


def test_product_limits_by_hand() -> None:
    # 10 % and 0 %: the product keeps 10 %; a negative factor turns the limits round.
    ten_percent = estimate(20.0, 18.0, 23.0)
    assert tuple(map(float, multiply_limits(ten_percent, estimate(2.0)))) == (40.0, 36.0, 46.0)
    assert tuple(map(float, multiply_limits(ten_percent, estimate(-2.0)))) == (-40.0, -46.0, -36.0)


def test_product_of_two_uncertain_factors_adds_relative_limits_in_quadrature() -> None:
    first, second = estimate(100.0, 97.0, 103.0), estimate(50.0, 48.0, 52.0)
    product = multiply_limits(first, second)
    assert float(product.high - product.value) == pytest.approx(5000 * 0.05)


def test_product_agrees_with_drawn_numbers() -> None:
    # Independent reference: the 2.5 and 97.5 percentiles of 200,000 drawn products.
    rng = np.random.default_rng(1)
    drawn = rng.normal(3.0, 0.15, 200_000) * rng.normal(20.0, 0.6, 200_000)
    product = multiply_limits(limits.from_deviation(3.0, 0.15), limits.from_deviation(20.0, 0.6))
    low, high = np.percentile(drawn, [2.5, 97.5])
    assert (product.low, product.high) == pytest.approx((low, high), rel=0.01)


def test_inverse_of_nothing_is_unknown() -> None:
    turned = limits.inverted(Estimate(*(np.array([0.0, 4.0]) for _ in range(3))))
    assert np.isnan(turned.value[0])
    assert turned.value[1] == 0.25


def test_register_step_is_triangular() -> None:
    # Independent reference: true volumes cut to a 0.1 m3 register at both ends of a window.
    rng = np.random.default_rng(2)
    start = rng.uniform(0, 1000, 100_000)
    end = start + 1.2345
    read = np.floor(end / 0.1) * 0.1 - np.floor(start / 0.1) * 0.1
    off_l_s = (read - 1.2345) * 1000 / 7200
    expected = limits.resolution_deviation_l_s(0.1, window_h=2.0)
    # For one fixed volume the error has two values; over all volumes it is triangular.
    assert np.abs(off_l_s).max() <= 0.1 * 1000 / 7200
    volumes = rng.uniform(0, 5, 100_000)
    read = np.floor((start + volumes) / 0.1) * 0.1 - np.floor(start / 0.1) * 0.1
    assert np.std((read - volumes) * 1000 / 7200) == pytest.approx(float(expected), rel=0.02)


def test_lumpy_use_agrees_with_drawn_bursts() -> None:
    # Independent reference: gamma-sized bursts (mean 8 L, squared spread 0.2) at Poisson times.
    rng = np.random.default_rng(3)
    seconds, mean_l_s, burst_l = 7200, 0.05, 8.0
    counts = rng.poisson(mean_l_s * seconds / burst_l, 100_000)
    volumes = rng.gamma(5.0 * np.maximum(counts, 1e-9), burst_l / 5.0)
    expected = limits.lumpy_use_deviation_l_s(mean_l_s * burst_l, window_h=2.0)
    assert np.std(volumes / seconds) == pytest.approx(float(expected), rel=0.02)
    assert np.mean(volumes / seconds) == pytest.approx(mean_l_s, rel=0.01)
