"""Lines of the standard balance and what they are worth."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest

from district.balance import annual
from district.estimates import estimate
from district.settings import Annual, Costs

PARTS = {
    "system_input": estimate(np.array([1000.0]), np.array([970.0]), np.array([1030.0])),
    "billed_metered": estimate(np.array([700.0]), np.array([660.0]), np.array([740.0])),
    "billed_unmetered": estimate(np.array([50.0])),
    "unbilled_metered": estimate(np.array([0.0])),
    "unbilled_unmetered": estimate(np.array([10.0])),
    "unauthorised": estimate(np.array([5.0])),
    "meter_error": estimate(np.array([15.0])),
    "bottom_up": estimate(np.array([200.0])),
}


def test_lines_follow_from_their_parts() -> None:
    lines = {n: float(x.value[0]) for n, x in annual.complete_balance(PARTS).items()}
    assert lines["billed"] == 750
    assert lines["authorised"] == 760
    assert lines["losses"] == 240
    assert lines["apparent"] == 20
    assert lines["real"] == 220
    assert lines["non_revenue"] == 250


def test_differences_add_variances_once() -> None:
    # 30 and 40: 50 on everything that subtracts the metered use from the input.
    lines = annual.complete_balance(PARTS)
    for name in ("losses", "real", "non_revenue"):
        assert float(lines[name].high[0] - lines[name].value[0]) == pytest.approx(50.0)


def test_rows_stand_in_the_order_of_the_balance() -> None:
    lines = annual.complete_balance(PARTS)
    table = annual.annual_table(pd.Index(["A"]), lines, costs=Costs())
    assert list(table["component"])[:3] == [
        "system input volume",
        "authorised consumption",
        "billed authorised consumption",
    ]
    # Own and imported water, mains, tanks and service pipes are not among the parts.
    assert len(table) == len(annual.LINES) - 5
    assert list(table["component"])[-3:-1] == ["real losses", annual.BOTTOM_UP]


def test_losses_are_worth_what_was_spent_or_not_sold() -> None:
    costs = Costs(water_currency_m3=1.0, sold_currency_m3=3.0)
    worth = annual.valued(annual.complete_balance(PARTS), costs=costs)
    assert float(worth["real"].value[0]) == 220
    assert float(worth["apparent"].value[0]) == 60
    assert float(worth["non_revenue"].value[0]) == 10 + 60 + 220
    assert float(worth["authorised"].value[0]) == 3 * 750 + 10
    assert float(worth["losses"].value[0]) == 60 + 220


def test_limits_of_a_value_count_every_part_once() -> None:
    # Hand calculation. Input ±30 and billed ±40 at the cost of 1; apparent ±12, which is taken
    # from the real losses at 1 and added at the price of 3: 2 each.
    parts = PARTS | {"meter_error": estimate([15.0], [3.0], [27.0])}
    costs = Costs(water_currency_m3=1.0, sold_currency_m3=3.0)
    worth = annual.valued(annual.complete_balance(parts), costs=costs)
    for name in ("losses", "non_revenue"):
        half = worth[name].high - worth[name].value
        assert float(half[0]) == pytest.approx(np.sqrt(30**2 + 40**2 + 24**2))
    dear = annual.valued(
        annual.complete_balance(parts), costs=Costs(water_currency_m3=3.0, sold_currency_m3=1.0)
    )["losses"]
    assert float(dear.value[0]) == 3 * 220 + 20
    assert float((dear.high - dear.value)[0]) == pytest.approx(np.sqrt(90**2 + 120**2 + 24**2))


def test_exported_unbilled_and_badly_handled_water_have_their_lines() -> None:
    more = {
        "billed_exported": estimate([100.0]),
        "unbilled_metered": estimate([7.0]),
        "data_error": estimate([3.0]),
    }
    lines = {n: float(x.value[0]) for n, x in annual.complete_balance(PARTS | more).items()}
    assert lines["billed"] == 850
    assert lines["unbilled"] == 17
    assert lines["apparent"] == 23
    assert lines["real"] == 1000 - 850 - 17 - 23
    assert lines["non_revenue"] == 150


def test_assumed_parts_are_shares_with_their_spread() -> None:
    parts = annual.assumed_parts(
        np.array([1000.0, -5.0]),
        np.array([980.0, 0.0]),
        metered=np.array([2000.0, 0.0]),
        annual=Annual(
            assumed_spread_share=0.5,
            customer_under_registration_share=0.02,
            data_handling_share=0.01,
            data_handling_spread_share=0.02,
        ),
    )
    assert [float(x[0]) for x in parts["unbilled_unmetered"]] == [5.0, 2.5, 7.5]
    assert float(parts["meter_error"].value[0]) == pytest.approx(20.0)
    assert float(parts["unauthorised"].value[1]) == 0.0  # never negative
    assert [float(x[0]) for x in parts["data_error"]] == [20.0, -20.0, 60.0]


def test_sums_over_cells() -> None:
    part = estimate(np.array([10.0, 20.0]), np.array([7.0, 16.0]), np.array([13.0, 24.0]))
    assert tuple(map(float, annual.summed_as_one(part))) == (30.0, 23.0, 37.0)
    assert tuple(map(float, annual.summed_apart(part))) == (30.0, 25.0, 35.0)
