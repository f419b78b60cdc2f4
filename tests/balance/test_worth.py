"""Non-revenue water by value."""

from __future__ import annotations

import numpy as np
import pytest

from district.balance.worth import cost_share, propagated, value_share
from district.estimates import estimate, multiply_limits
from district.settings import Costs


def test_each_part_is_moved_to_its_limits_in_turn() -> None:
    parts = {"a": estimate([3.0], [2.0], [5.0]), "b": estimate([4.0], [3.0], [4.0])}
    found = propagated(lambda at: at["a"] * at["b"], parts)
    by_rule = multiply_limits(parts["a"], parts["b"])
    assert tuple(float(x[0]) for x in found) == tuple(float(x[0]) for x in by_rule)


def test_share_of_value_by_hand() -> None:
    # 1000 in, 750 billed, 20 apparent, so 230 more at the cost: (20 x 3 + 230) / (290 + 2250).
    lines = {
        "system input volume": estimate([1000.0, 0.0]),
        "billed authorised consumption": estimate([750.0, 0.0]),
        "apparent losses": estimate([20.0, 0.0]),
    }
    found = value_share(lines, costs=Costs(water_currency_m3=1.0, sold_currency_m3=3.0))
    assert found.value == pytest.approx([290 / 2540, 0.0])


def test_share_of_cost_is_known_of_the_district_alone() -> None:
    worth = estimate([290.0, 145.0], [280.0, 140.0], [300.0, 150.0])
    found = cost_share(worth, costs=Costs(running_currency_year=2900.0))
    assert found.value[0] == pytest.approx(0.1)
    assert np.isnan(found.value[1])
    assert np.isnan(cost_share(worth, costs=Costs()).value).all()
