"""Nights brought to one pressure."""

from __future__ import annotations

from typing import Any

import numpy as np
import pandas as pd
import pytest

from district.balance import district_balance
from district.balance.leak_law import Law
from district.balance.one_pressure import by_law, pressure_limits, standard_share
from district.estimates import estimate
from district.settings import Pressure, Settings


def test_zones_of_one_kind_at_two_pressures_compare_at_the_standard() -> None:
    pressure = estimate([40.0, 60.0])
    flow = (pressure.value / 50.0) ** 1.2
    share = standard_share(
        pressure, standard_m=50.0, law=Law("power", estimate([1.2, 1.2]), np.array([40.0, 60.0]))
    )
    assert flow * share.value == pytest.approx([1.0, 1.0])


@pytest.fixture
def found(make_network: Any, make_reduced: Any, no_works: Any) -> Any:
    def balance(settings: Settings, **changes: Any) -> Any:
        return district_balance(
            make_network(), make_reduced(**changes), settings=settings, works=no_works
        )

    return balance


def test_nights_at_the_standard_pressure(found: Any) -> None:
    whole = found(Settings(pressure=Pressure(standard_m=40.0)))
    nights = whole.nights
    # The assumed pressure is the standard one.
    pd.testing.assert_series_equal(
        nights["standard_leakage_l_s"], nights["leakage_l_s"], check_names=False
    )
    assert (nights["standard_leakage_l_s_low"] < nights["leakage_l_s_low"]).all()


def test_limits_go_through_the_law_and_stop_above_nothing() -> None:
    law = Law("power", estimate([1.0], [1.0], [1.0]), np.array([50.0]))
    found = by_law(lambda metres, _: 1.0 / metres, estimate([10.0], [-5.0], [20.0]), law)
    # The lower limit of the pressure leaves a quarter of it.
    assert [float(x[0]) for x in found] == pytest.approx([0.1, 0.1 - 0.05, 0.1 + (0.4 - 0.1)])
    assert np.isnan(by_law(lambda metres, _: metres, estimate([0.0]), law).value[0])


def test_pressure_takes_its_spread_either_way() -> None:
    table = pd.DataFrame({"cell_id": ["A", "A"], "pressure_m": [40.0, 41.0], "spread_m": [2.0, 3]})
    found = pressure_limits(table, "pressure_m", pd.Index(["A"], dtype=object))
    assert found.low[:, 0].tolist() == [38.0, 38.0]
    assert found.high[:, 0].tolist() == [42.0, 44.0]
