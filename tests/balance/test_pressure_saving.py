"""The pressure of zones, and what a metre less of it would save."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest

from district.balance import district_balance
from district.balance.leak_law import Law
from district.balance.pressure_saving import saved_share
from district.estimates import Estimate, estimate
from district.settings import Costs, Settings


def of(*three: float) -> Estimate:
    return estimate(*([x] for x in three))


def law(*three: float) -> Law:
    return Law("power", of(*three), np.array([50.0]))


def test_share_saved_by_one_metre() -> None:
    sure = saved_share(of(50.0, 50.0, 50.0), less_m=1.0, law=law(1.5, 1.5, 1.5))
    # Hand calculation: 1 - 0.98^1.5.
    assert [float(x[0]) for x in sure] == pytest.approx([0.029850] * 3, abs=1e-6)
    unsure = saved_share(of(50.0, 40.0, 60.0), less_m=1.0, law=law(1.0, 0.5, 1.5))
    assert unsure.value[0] == pytest.approx(0.02)
    down = np.hypot(1 / 50 - 1 / 60, 0.02 - (1 - 0.98**0.5))
    up = np.hypot(1 / 40 - 1 / 50, 1 - 0.98**1.5 - 0.02)
    assert unsure.low[0] == pytest.approx(0.02 - down)
    assert unsure.high[0] == pytest.approx(0.02 + up)


def test_no_more_than_all_is_saved_and_nothing_is_said_without_pressure() -> None:
    assert saved_share(of(0.5, 0.4, 0.6), less_m=1.0, law=law(1.0, 0.5, 1.5)).value[0] == 1.0
    assert np.isnan(saved_share(of(0.0, 0.0, 0.0), less_m=1.0, law=law(1.0, 0.5, 1.5)).value[0])


@pytest.fixture
def found(make_network: Any, make_reduced: Any, no_works: Any) -> Any:
    def balance(settings: Settings, **changes: Any) -> Any:
        return district_balance(
            make_network(), make_reduced(**changes), settings=settings, works=no_works
        )

    return balance


def test_zone_pressure_of_the_district(found: Any) -> None:
    whole = found(Settings(costs=Costs(water_currency_m3=2.0)))
    table = whole.zone_pressure.set_index("cell_id")
    assert list(table.index) == list(whole.zones["cell_id"])
    zones = whole.zones.set_index("cell_id")
    north, zone = table.loc["North"], zones.loc["North"]
    # No logger: 40 m assumed, exponent 1.15.
    share = 1 - (39 / 40) ** 1.15
    assert north["saving_m3_year"] == pytest.approx(zone["leakage_m3_d"] * 365 * share)
    assert north["saving_l_s"] * 86.4 * 365 == pytest.approx(north["saving_m3_year"])
    assert north["saving_currency_year"] == pytest.approx(2.0 * north["saving_m3_year"])
    assert north["standard_leakage_l_s"] == pytest.approx(zone["leakage_l_s"] * (50 / 40) ** 1.15)
    assert (north["rests_on"], north["loggers_count"]) == ("assumed", 0)
    for name in ("saving_m3_year", "standard_leakage_l_s", "pressure_m", "exponent_index"):
        assert north[f"{name}_low"] < north[name] < north[f"{name}_high"]
    assert "fire hydrants" in north["basis"]


def test_a_logger_narrows_what_is_saved(found: Any, pressure_table: Any, nights: Any) -> None:
    bare, logged = (
        found(Settings(), **changes).zone_pressure.set_index("cell_id").loc["North"]
        for changes in ({}, {"hourly_pressures": pressure_table(nights, 42.0)})
    )
    assert (logged["loggers_count"], logged["rests_on"]) == (1, "logger")
    assert logged["pressure_m"] == bare["pressure_m"] == 40.0

    def width(row: Any, name: str) -> float:
        return float(row[f"{name}_high"] - row[f"{name}_low"])

    for name in ("saving_m3_year", "standard_leakage_l_s", "night_pressure_m"):
        assert width(logged, name) < width(bare, name)


def test_no_leakage_saves_nothing(found: Any, night_table: Any, nights: Any) -> None:
    dry = night_table(nights, {"M1": 0.0, "M2": 0.0, "B1": 0.0})
    table = found(Settings(), night_flows=dry).zone_pressure
    assert (table["saving_m3_year"] == 0).all()
    assert (table["saving_m3_year_low"] == 0).all()
