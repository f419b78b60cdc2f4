"""Indicators of the year."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest

from district.balance import district_balance
from district.balance.performance import mean_pressure_m
from district.settings import Settings


def year_of(network: Any, reduced: Any, works: Any, **sections: Any) -> Any:
    found = district_balance(network, reduced, settings=Settings(**sections), works=works)
    return found, found.annual.set_index(["cell_id", "component"])


def test_indicators_by_hand(make_network: Any, make_reduced: Any, no_works: Any) -> None:
    found, lines = year_of(make_network(), make_reduced(), no_works)
    rows = found.indicators.set_index("cell_id")
    assert list(rows.index) == ["district", "North", "South"]
    south = rows.loc["South"]
    real = lines.loc[("South", "real losses"), "volume_m3"]
    unavoidable = (18 * 2 + 0.8 * 3 + 25 * 0.1) * 40 * 0.365
    assert south["real_losses_m3"] == real
    assert south["unavoidable_losses_m3"] == pytest.approx(unavoidable)
    assert south["leakage_index"] == pytest.approx(real / unavoidable)
    assert south["leakage_l_connection_d"] == pytest.approx(real * 1000 / 365 / 3)
    assert south["leakage_m3_km_d"] == pytest.approx(real / 365 / 2)
    billed = lines.loc[("South", "billed authorised consumption"), "volume_m3"]
    assert south["non_revenue_share"] == pytest.approx(1 - billed / (50 * 365))
    whole = rows.loc["district"]
    assert whole["unavoidable_losses_m3"] == pytest.approx(
        rows["unavoidable_losses_m3"].drop("district").sum()
    )
    assert whole["pressure_m"] == pytest.approx(40.0)
    for name in ("unavoidable_losses_m3", "apparent_l_connection_d", "non_revenue_value_share"):
        for row in (south, whole):
            assert row[f"{name}_low"] < row[name] < row[f"{name}_high"]
    # The assumed 40 m ±10 m.
    assert south["unavoidable_losses_m3_high"] == pytest.approx(unavoidable * 1.25)
    apparent = lines.loc[("South", "apparent losses"), "volume_m3"]
    assert south["apparent_l_connection_d"] == pytest.approx(apparent * 1000 / 365 / 3)
    value = lines["value_currency"]["South"]
    assert south["non_revenue_value_share"] == pytest.approx(
        value["non-revenue water"]
        / (value["non-revenue water"] + value["billed authorised consumption"])
    )
    assert np.isnan(rows["non_revenue_cost_share"]).all()


def test_share_by_cost_is_of_the_district_alone(
    make_network: Any, make_reduced: Any, no_works: Any
) -> None:
    found, lines = year_of(
        make_network(), make_reduced(), no_works, costs={"running_currency_year": 50_000.0}
    )
    rows = found.indicators.set_index("cell_id")["non_revenue_cost_share"]
    worth = lines.loc[("district", "non-revenue water"), "value_currency"]
    assert rows["district"] == pytest.approx(worth / 50_000)
    assert rows.drop("district").isna().all()


def test_pressure_of_the_district_is_weighted_by_connections() -> None:
    pressures = np.array([30.0, 60.0])
    assert mean_pressure_m(pressures, np.array([2.0, 1.0])) == pytest.approx(40.0)
    assert mean_pressure_m(pressures, np.zeros(2)) == pytest.approx(45.0)
