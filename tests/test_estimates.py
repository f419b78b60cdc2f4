"""Estimates and how their limits join."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest

from district.estimates import (
    Estimate,
    by_group,
    combine_limits,
    estimate,
    from_deviation,
    inverted,
    multiply_limits,
    not_below_zero,
    of,
    product,
    scaled,
    total,
    within,
)


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
    product = multiply_limits(from_deviation(3.0, 0.15), from_deviation(20.0, 0.6))
    low, high = np.percentile(drawn, [2.5, 97.5])
    assert (product.low, product.high) == pytest.approx((low, high), rel=0.01)


def test_inverse_of_nothing_is_unknown() -> None:
    turned = inverted(Estimate(*(np.array([0.0, 4.0]) for _ in range(3))))
    assert np.isnan(turned.value[0])
    assert turned.value[1] == 0.25


def test_use_is_not_below_zero_but_a_negative_value_stays() -> None:
    found = not_below_zero(Estimate(*np.array([[1.0, -2.0], [-3.0, -4.0], [5.0, 1.0]])))
    assert found.low.tolist() == [0.0, -2.0]


def made(*triple: float) -> Estimate:
    return Estimate(*(np.array([x]) for x in triple))


def test_limits_of_a_sum_join_by_squares() -> None:
    found = total(made(10, 7, 13), made(20, 16, 24))
    assert [float(x[0]) for x in found] == [30.0, 25.0, 35.0]


def test_a_sum_is_never_below_nothing() -> None:
    assert total(made(1, 0, 9), made(1, 0, 9)).low[0] == pytest.approx(2 - 2**0.5)
    assert product(made(1, 0, 2), made(1, 0, 2)).low[0] == 0.0


def test_relative_limits_of_a_product_join_by_squares() -> None:
    found = product(made(10, 7, 13), made(5, 3, 7))
    assert found.value[0] == 50
    assert found.low[0] == pytest.approx(50 * (1 - 0.5))
    assert found.high[0] == pytest.approx(50 * (1 + 0.5))


def test_a_product_agrees_with_drawn_figures() -> None:
    # Drawn with NumPy: 95 % of products of two independent normal figures.
    random = np.random.default_rng(3)
    drawn = random.normal(100, 15 / 1.96, 200_000) * random.normal(4, 0.8 / 1.96, 200_000)
    found = product(made(100, 85, 115), made(4, 3.2, 4.8))
    assert found.low[0] == pytest.approx(np.quantile(drawn, 0.025), rel=0.02)
    assert found.high[0] == pytest.approx(np.quantile(drawn, 0.975), rel=0.02)


def test_within_and_scaled() -> None:
    assert [float(x) for x in within(10.0, spread_share=2.0)] == [10.0, 0.0, 30.0]
    assert [float(x[0]) for x in scaled(made(1, 0.5, 2), 3.0)] == [3.0, 1.5, 6.0]


def test_groups_join_as_one_or_apart() -> None:
    each = Estimate(np.array([3.0, 4.0, 9.0]), np.array([0.0, 0.0, 8.0]), np.array([6.0, 8.0, 10]))
    group = np.array([0, 0, 2])
    one = by_group(each, group, groups_count=3, as_one=True)
    assert one.value.tolist() == [7.0, 0.0, 9.0]
    assert one.high.tolist() == [14.0, 0.0, 10.0]
    apart = by_group(each, group, groups_count=3, as_one=False)
    assert apart.high.tolist() == [12.0, 0.0, 10.0]
    assert apart.low.tolist() == [2.0, 0.0, 8.0]
    halves = by_group(each, group, groups_count=3, as_one=True, weight=np.array([0.5, 0.5, 1]))
    assert halves.value.tolist() == [3.5, 0.0, 9.0]


def test_columns_and_back() -> None:
    one = made(1, 0, 3)
    table = pd.DataFrame(one.columns("x_m"))
    assert list(table) == ["x_m", "x_m_low", "x_m_high"]
    assert [x.tolist() for x in of(table, "x_m")] == [x.tolist() for x in one]
