from __future__ import annotations

import numpy as np
import pandas as pd
import pytest

from district.plan.estimates import Estimate, by_group, of, product, scaled, total, within


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
