"""The exponent of each zone: the usual one, and what its record adds."""

from __future__ import annotations

from typing import Any

import numpy as np
import pandas as pd
import pytest

from district.balance.exponents import (
    exponents_said,
    fitted_pressures,
    zone_exponents,
    zone_law,
)
from district.balance.metering import metering
from district.balance.night import night_balance
from district.balance.pressure import zone_pressures
from district.schema import check
from district.schema.pressures import ZONE_EXPONENTS
from district.settings import Pressure, Settings

NIGHTS = pd.date_range("2026-03-01", periods=120, freq="D").as_unit("us")


def stepped() -> Any:
    pressure = np.full(len(NIGHTS), 50.0)
    pressure[30:50] = 38.0
    pressure[80:100] = 36.0
    return pressure


def case(
    make_network: Any,
    make_reduced: Any,
    night_table: Any,
    no_works: Any,
    *,
    exponent: float = 0.8,
    settings: Settings | None = None,
) -> Any:
    """North's leakage follows its pressure (2 m below the gauge); South has no logger."""
    rng = np.random.default_rng(4)
    gauge = stepped()
    leak = 2.0 * ((gauge - 2.0) / 48.0) ** exponent + rng.normal(0, 0.02, len(NIGHTS))
    flows = {"M1": leak + 0.4, "M2": 0.4, "B1": 0.0}
    hourly = pd.DataFrame(
        {
            "device_id": "G1",
            "day": np.repeat(NIGHTS, 24),
            "hour": np.tile(np.arange(24.0), len(NIGHTS)),
            "pressure_m": np.repeat(gauge, 24) - np.tile([0.0] * 6 + [10.0] * 18, len(NIGHTS)),
        }
    )
    reduced = make_reduced(night_flows=night_table(NIGHTS, flows), hourly_pressures=hourly)
    network, settings = make_network(), settings or Settings()
    cells = metering(network).cells
    pressures, _ = zone_pressures(network, hourly, settings=settings, cells=cells, days=NIGHTS)
    night = night_balance(network, reduced, settings=settings, works=no_works, pressures=pressures)
    table = zone_exponents(night, pressures=pressures, settings=settings, cells=cells)
    assert check(ZONE_EXPONENTS, table, source="exponents")[1] == ()
    again = fitted_pressures(
        network, hourly, pressures=pressures, exponents=table, settings=settings
    )
    return table.set_index("cell_id"), pressures, again, cells


@pytest.fixture
def parts(make_network: Any, make_reduced: Any, night_table: Any, no_works: Any) -> tuple[Any, ...]:
    return make_network, make_reduced, night_table, no_works


def test_the_record_moves_the_exponent_as_far_as_it_is_sure(parts: Any) -> None:
    table, _, _, _ = case(*parts)
    north = table.loc["North"]
    fitted = north["fitted_index"]
    assert fitted == pytest.approx(0.8, abs=0.1)
    # By hand: each weighted by one over its variance; the usual one is 1.15 (0.5 to 1.5).
    usual = 1 / ((1.5 - 0.5) / 2 / 1.96) ** 2
    own = 1 / ((north["fitted_index_high"] - fitted) / 1.96) ** 2
    assert north["exponent_index"] == pytest.approx((1.15 * usual + fitted * own) / (usual + own))
    width = north["exponent_index_high"] - north["exponent_index_low"]
    assert width == pytest.approx(2 * 1.96 / np.sqrt(usual + own))
    assert width < north["fitted_index_high"] - north["fitted_index_low"] < 1.0
    assert north["rests_on"] in ("both", "fitted")
    assert north["pressure_m"] == pytest.approx(48.0)
    assert north["pressure_range_m"] == pytest.approx(14.0)
    assert north["changes_count"] == 4
    assert north["basis"].startswith("4 changes of night pressure over 14 m tell ")


def test_a_zone_without_logger_keeps_the_usual_exponent(parts: Any) -> None:
    table, _, _, _ = case(*parts)
    south = table.loc["South"]
    assert [south[f"exponent_index{s}"] for s in ("", "_low", "_high")] == [1.15, 0.5, 1.5]
    assert south["rests_on"] == "default"
    assert south["basis"] == "No pressure logger: the usual exponent 1.15 (0.5 to 1.5) stands."
    assert pd.isna(south["fitted_index"])


def test_the_settings_may_leave_the_record_aside(parts: Any) -> None:
    table, pressures, again, _ = case(*parts, settings=Settings(pressure=Pressure(fit=False)))
    assert (table["rests_on"] == "default").all()
    assert again is pressures
    assert exponents_said(table.reset_index()) == ()


def test_an_exponent_no_survey_found_is_not_believed(parts: Any) -> None:
    table, _, _, _ = case(*parts, exponent=0.05)
    north = table.loc["North"]
    assert north["rests_on"] == "default"
    assert north["exponent_index"] == 1.15
    assert "outside what surveys of zones found (0.36 to 2.95)" in north["basis"]
    assert north["fitted_index"] < 0.36


def test_the_factor_follows_the_exponent_found(parts: Any) -> None:
    table, pressures, again, cells = case(*parts)
    north, south = (pressures["cell_id"] == c for c in ("North", "South"))
    assert again.loc[south].equals(pressures.loc[south])
    factor = "night_day_factor_h_d"
    exponent = table.loc["North", "exponent_index"]
    # Eighteen hours at 10 m less than the night's 48 m.
    assert again.loc[north, factor].iloc[0] == pytest.approx(6 + 18 * (38 / 48) ** exponent)
    width = again[f"{factor}_high"] - again[f"{factor}_low"]
    before = pressures[f"{factor}_high"] - pressures[f"{factor}_low"]
    assert (width[north] < before[north]).all()
    law = zone_law(table.reset_index(), form="power", cells=cells)
    assert law.exponent.value.tolist() == [exponent, 1.15]
    (said,) = exponents_said(table.reset_index())
    assert said.startswith("Leakage and pressure of North: 4 changes of night pressure")


def test_areas_take_no_exponent_beyond_theirs(parts: Any) -> None:
    form = Settings(pressure=Pressure(form="fixed_and_variable_area"))
    table, _, again, _ = case(*parts, exponent=1.7, settings=form)
    north = table.loc["North"]
    assert north["fitted_index"] == pytest.approx(1.7, abs=0.15)
    assert 1.3 < north["exponent_index"] <= north["exponent_index_high"] <= 1.5
    assert again["night_day_factor_h_d"].between(10, 24).all()
