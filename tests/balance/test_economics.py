"""What leakage costs and which zone to visit first."""

from __future__ import annotations

from typing import Any

import numpy as np
import pandas as pd
import pytest

from district.balance.economics import survey_economics
from district.settings import Costs, Settings

NIGHT = pd.date_range("2025-01-01", periods=371, freq="D")
COSTS = Costs(water_currency_m3=0.5, survey_currency_km=100.0)


def nights_of(**levels: Any) -> pd.DataFrame:
    return pd.concat(
        [
            pd.DataFrame(
                {
                    "cell_id": cell,
                    "night": NIGHT,
                    "status": "measured",
                    "leakage_m3_d": np.broadcast_to(level, len(NIGHT)),
                    "legitimate_use_l_s": 0.1,
                    "works": "",
                }
            )
            for cell, level in levels.items()
        ],
        ignore_index=True,
    )


def zones_of(**excess: tuple[float, float, float, float]) -> pd.DataFrame:
    """Zone -> km of mains, excess in m³/d, its limits; the night-to-day factor is 24 h exactly."""
    rows = []
    for cell, (km, value, low, high) in excess.items():
        row = {"cell_id": cell, "mains_km": km}
        for suffix, flow in (("", value), ("_low", low), ("_high", high)):
            row[f"excess_l_s{suffix}"] = flow / 86.4
            row[f"night_day_factor_h_d{suffix}"] = 24.0
        rows.append(row)
    return pd.DataFrame(rows)


def table_of(zones: pd.DataFrame, nights: pd.DataFrame, costs: Costs = COSTS) -> pd.DataFrame:
    return survey_economics(zones, nights, settings=Settings(costs=costs)).set_index("cell_id")


def test_figures_of_a_zone_by_hand() -> None:
    # Grows by 36.5 m³/d in the year; the noise of nights hides that from week to week.
    noise = np.random.default_rng(5).normal(0, 1.5, len(NIGHT))
    level = 10 + 0.1 * np.arange(len(NIGHT)) + noise
    found = table_of(zones_of(A=(4.0, 30.0, 20.0, 40.0)), nights_of(A=level))
    row = found.loc["A"]
    assert row["rise_m3_d_year"] == pytest.approx(36.5, abs=2.0)
    assert row["rise_m3_d_year_low"] < 36.5 < row["rise_m3_d_year_high"]
    assert row["survey_currency"] == 400.0
    months = np.sqrt(0.789 * 400 / (0.5 * row["rise_m3_d_year"]))
    assert row["survey_interval_months"] == pytest.approx(months)
    assert row["survey_interval_months_low"] < months < row["survey_interval_months_high"]
    assert row["surveyed_percent"] == pytest.approx(1200 / months)
    assert row["survey_budget_currency"] == pytest.approx(12 / months * 400)
    assert row["economic_losses_m3"] == pytest.approx(12 / months * 400 / 0.5)
    assert row["excess_day_currency"] == pytest.approx(15.0)
    assert row["excess_year_currency_high"] == pytest.approx(20.0 * 365)
    assert [row[f"payback_d{s}"] for s in ("", "_low", "_high")] == pytest.approx(
        [400 / 15, 400 / 20, 400 / 10]
    )
    assert row["return_index"] == pytest.approx(
        (30.0 - row["economic_losses_m3"] / 365) * 0.5 * 365 / 400
    )
    assert row["statement"] == (
        "A survey pays: it costs EUR\u00a0400 and is earned back in about 27 days if it finds all "
        "of the excess, repairs not counted."
    )


def test_first_the_zone_that_brings_most_for_the_cost() -> None:
    zones = zones_of(
        big=(10.0, 50.0, 40.0, 60.0),
        small=(1.0, 20.0, 15.0, 25.0),
        none=(1.0, np.nan, np.nan, np.nan),
    )
    found = table_of(zones, nights_of(big=5.0, none=5.0, small=5.0))
    assert list(found.index) == ["district", "small", "big", "none"]
    assert list(found["rank"].iloc[1:3]) == [1.0, 2.0]
    assert found["rank"][["district", "none"]].isna().all()
    assert found.loc["none", "statement"] == "Not known: no usable night."
    assert found.loc["district", "excess_m3_d"] == pytest.approx(70.0)
    assert found.loc["district", "survey_currency"] == pytest.approx(1200.0)


def test_a_rise_of_nothing_or_below_has_no_interval_and_no_division() -> None:
    day = np.arange(len(NIGHT))
    found = table_of(
        zones_of(A=(4.0, 30.0, 20.0, 40.0), B=(4.0, 1.0, -3.0, 5.0), C=(4.0, -1.0, -3.0, 0.5)),
        nights_of(A=40 - 36.5 * day / 365, B=7.0, C=7.0),
    )
    assert found.loc[["A", "B"], "survey_interval_months"].isna().all()
    assert (found.loc[["A", "B"], "economic_losses_m3"] == 0).all()
    assert found.loc["B", "statement"].startswith("A survey may pay, but the limits")
    assert np.isnan(found.loc["B", "payback_d_high"])
    assert found.loc["C", "excess_day_currency"] == 0
    assert np.isnan(found.loc["C", "payback_d"])
    assert found.loc["C", "statement"].startswith("A survey does not pay yet")


def test_an_unknown_rise_is_said_and_counts_as_nothing() -> None:
    nights = nights_of(A=7.0, B=np.where(NIGHT < "2025-03-01", 7.0, np.nan)).assign(
        status=lambda f: np.where(f["leakage_m3_d"].isna(), "no_inflow", "measured")
    )
    found = table_of(zones_of(A=(4.0, 30.0, 20.0, 40.0), B=(4.0, 9.0, 8.0, 10.0)), nights)
    assert np.isnan(found.loc["B", "rise_m3_d_year"])
    assert found.loc["B", "rise_note"].startswith("not known: 9 weeks")
    assert found.loc["district", "rise_note"] == "without B, where it is not known"
    assert found.loc["B", "return_index"] == pytest.approx(9.0 * 0.5 * 365 / 400)


def test_the_interval_of_the_district_is_that_of_the_zones_whose_rise_is_known() -> None:
    level = 10 + 0.1 * np.arange(len(NIGHT)) + np.random.default_rng(5).normal(0, 1.5, len(NIGHT))
    nights = nights_of(A=level, B=7.0).assign(
        status=lambda f: np.where(
            (f["cell_id"] == "B") & (f["night"] >= "2025-03-01"), "no_inflow", "measured"
        )
    )
    excess = (30.0, 20.0, 40.0)
    found = table_of(zones_of(A=(4.0, *excess), B=(36.0, *excess)), nights)
    # B, nine times as long and of unknown rise, must not make surveys look three times too dear.
    assert found.loc["district", "survey_interval_months"] == pytest.approx(
        found.loc["A", "survey_interval_months"]
    )
    assert found.loc["district", "survey_budget_currency"] == pytest.approx(
        10 * found.loc["A", "survey_budget_currency"]
    )


def test_excess_is_not_below_nothing_by_its_factor_either() -> None:
    zones = zones_of(A=(4.0, 30.0, 0.0, 40.0)).assign(night_day_factor_h_d_low=12.0)
    row = table_of(zones, nights_of(A=7.0)).loc["A"]
    assert row["excess_m3_d_low"] == row["excess_day_currency_low"] == 0
    assert row["excess_m3_d"] == pytest.approx(30.0)


def test_no_cost_no_price_no_mains() -> None:
    zones, nights = zones_of(A=(0.0, 30.0, 20.0, 40.0)), nights_of(A=7.0)
    assert table_of(zones, nights).loc["A", "statement"].startswith("Not known: a survey here")
    free = table_of(zones_of(A=(4.0, 30.0, 20.0, 40.0)), nights, Costs(water_currency_m3=0.0))
    assert free.loc["A", "excess_year_currency"] == 0
    assert np.isnan(free.loc["A", "survey_interval_months"])
    assert free.loc["A", "statement"].startswith("Not known: water costs nothing in the settings")


def test_zones_without_any_night() -> None:
    zones = zones_of(A=(4.0, np.nan, np.nan, np.nan))
    found = table_of(zones, nights_of(A=7.0).iloc[:0])
    assert found.loc["A", "rise_note"] == "not known: no usable night"
    assert found["rank"].isna().all()
