"""The night balance, by hand and against drawn nights."""

from __future__ import annotations

from typing import Any

import numpy as np
import pandas as pd
import pytest
from scipy import stats

from district.balance import night_balance
from district.settings import ExceptionalUse, Settings

HOUSEHOLDS_L_S = 100 * 1.7 / 3600
SMALL_TRADE_L_S = 2 * 8.0 / 3600


def register_of(device_id: str, *, step_m3: float) -> pd.DataFrame:
    return pd.DataFrame(
        {
            "device_id": [device_id],
            "kind": ["register"],
            "step_h": [0.25],
            "resolution_m3": [step_m3],
        }
    )


def night_of(found: Any, cell: str, at: int = 0) -> pd.Series:
    return found.nights[found.nights["cell_id"] == cell].iloc[at]


def test_leakage_is_inflow_less_legitimate_use(
    make_network: Any, make_reduced: Any, settings: Any, no_works: Any
) -> None:
    found = night_balance(make_network(), make_reduced(), settings=settings, works=no_works)
    north = night_of(found, "North")
    assert north["inflow_l_s"] == pytest.approx(0.6)
    assert north["measured_use_l_s"] == pytest.approx(0.2)
    assert north["allowed_use_l_s"] == pytest.approx(HOUSEHOLDS_L_S + SMALL_TRADE_L_S)
    assert north["leakage_l_s"] == pytest.approx(0.4 - HOUSEHOLDS_L_S - SMALL_TRADE_L_S)
    assert north["excess_l_s"] == pytest.approx(north["leakage_l_s"] - north["background_l_s"])
    assert found.interval_meters == ("B1",)


def test_inflow_limits_are_the_meters_errors_in_quadrature(
    make_network: Any, make_reduced: Any, settings: Any, no_works: Any
) -> None:
    found = night_balance(make_network(), make_reduced(), settings=settings, works=no_works)
    north = night_of(found, "North")
    assert north["inflow_l_s_high"] - 0.6 == pytest.approx(0.02 * np.hypot(1.0, 0.4))
    assert north["measured_use_l_s_high"] == pytest.approx(0.2 * 1.04)


def test_a_meter_whose_flow_turned_round_errs_by_what_passed_either_way(
    make_network: Any, make_reduced: Any, settings: Any, no_works: Any
) -> None:
    plain = make_reduced().night_flows
    turning = plain.assign(gross_l_s=plain["flow_l_s"].where(plain["device_id"] != "M2", 3.0))
    turning.loc[turning["device_id"] == "M2", "flow_l_s"] = 0.0
    found = night_balance(
        make_network(), make_reduced(night_flows=turning), settings=settings, works=no_works
    )
    north, south = night_of(found, "North"), night_of(found, "South")
    assert (north["inflow_l_s"], south["inflow_l_s"]) == (1.0, 0.0)
    assert north["inflow_l_s_high"] - 1.0 == pytest.approx(0.02 * np.hypot(1.0, 3.0))
    assert south["inflow_l_s_high"] == pytest.approx(0.02 * 3.0)


def test_leakage_limits_hold_every_part(
    make_network: Any, make_reduced: Any, settings: Any, no_works: Any
) -> None:
    quality = register_of("M1", step_m3=0.1)
    found = night_balance(
        make_network(), make_reduced(quality=quality), settings=settings, works=no_works
    )
    north = night_of(found, "North")
    meters = (0.02 * 1.0) ** 2 + (0.02 * 0.4) ** 2 + (0.04 * 0.2) ** 2
    allowance = (0.4 * HOUSEHOLDS_L_S) ** 2 + (0.4 * SMALL_TRADE_L_S) ** 2
    square = 6.0 * (1 + (0.9 / 1.96) ** 2)
    lumps = 1.96**2 * square * (HOUSEHOLDS_L_S + SMALL_TRADE_L_S) / 7200
    step = 1.96**2 * (100 / 7200) ** 2 / 6
    half = np.sqrt(meters + allowance + lumps + step)
    # Use can be far above its mean but not as far below: leakage the other way about.
    cubed = (
        (HOUSEHOLDS_L_S + SMALL_TRADE_L_S) * square * 6.0 * (1 + 2 * (0.9 / 1.96) ** 2) / 7200**2
    )
    cubed += 3 * square * (0.4 / 1.96) ** 2 * (HOUSEHOLDS_L_S**2 + SMALL_TRADE_L_S**2) / 7200
    law = stats.pearson3(-cubed / (half / 1.96) ** 3, loc=north["leakage_l_s"], scale=half / 1.96)
    assert north["leakage_l_s_low"] == pytest.approx(law.ppf(0.025), rel=1e-3)
    assert north["leakage_l_s_high"] == pytest.approx(law.ppf(0.975), rel=1e-3)
    assert north["leakage_l_s"] - north["leakage_l_s_low"] > half


def test_a_night_without_one_zone_meter_has_no_figures(
    make_network: Any, make_reduced: Any, settings: Any, no_works: Any
) -> None:
    flows = make_reduced().night_flows
    flows.loc[(flows["device_id"] == "M1") & (flows["night"] == "2026-03-02"), "flow_l_s"] = np.nan
    found = night_balance(
        make_network(), make_reduced(night_flows=flows), settings=settings, works=no_works
    )
    north, south = night_of(found, "North", 1), night_of(found, "South", 1)
    assert north["status"] == "no_inflow"
    figures = [c for c in found.nights.columns if c[-4:] in ("_l_s", "_low", "high", "3_d", "e_m")]
    assert north[figures].isna().all()
    assert south["status"] == "measured"
    assert "Nights without a complete inflow are left empty: North (1), of 20." in found.limits


def test_negative_leakage_is_kept(
    make_network: Any,
    make_reduced: Any,
    settings: Any,
    no_works: Any,
    night_table: Any,
    nights: Any,
) -> None:
    flows = night_table(nights, {"M1": 0.05, "M2": 0.01, "B1": 0.2})
    found = night_balance(
        make_network(), make_reduced(night_flows=flows), settings=settings, works=no_works
    )
    north = night_of(found, "North")
    assert north["leakage_l_s"] < 0
    assert north["leakage_m3_d_low"] < north["leakage_m3_d"] < north["leakage_m3_d_high"] < 0


def test_exceptional_use_is_legitimate(make_network: Any, make_reduced: Any, no_works: Any) -> None:
    extra = Settings(exceptional_use=(ExceptionalUse(zone_id="South", flow_l_s=0.3),))
    plain = night_balance(make_network(), make_reduced(), settings=Settings(), works=no_works)
    found = night_balance(make_network(), make_reduced(), settings=extra, works=no_works)
    assert night_of(plain, "South")["leakage_l_s"] - night_of(found, "South")[
        "leakage_l_s"
    ] == pytest.approx(0.3)


def test_minimum_night_flow_has_its_meters_limits(
    make_network: Any, make_reduced: Any, settings: Any, no_works: Any, nights: Any
) -> None:
    minima = pd.DataFrame({"cell_id": "North", "night": nights, "minimum_night_flow_l_s": 0.5})
    found = night_balance(
        make_network(), make_reduced(night_minima=minima), settings=settings, works=no_works
    )
    north = night_of(found, "North")
    assert north["minimum_night_flow_l_s"] == 0.5
    assert north["minimum_night_flow_l_s_high"] == pytest.approx(0.5 + 0.02 * np.hypot(1.0, 0.4))
    assert np.isnan(night_of(found, "South")["minimum_night_flow_l_s"])


def test_works_are_named_on_their_night(
    make_network: Any, make_reduced: Any, settings: Any
) -> None:
    works = pd.DataFrame(
        {
            "start": pd.to_datetime(["2026-03-03 01:00"]),
            "end": pd.to_datetime(["2026-03-03 05:00"]),
            "kind": ["fire_use"],
            "place_id": ["South"],
        }
    )
    found = night_balance(make_network(), make_reduced(), settings=settings, works=works)
    marked = found.nights[found.nights["works"] != ""]
    assert marked[["cell_id", "works"]].to_numpy().tolist() == [["South", "fire_use"]]


@pytest.mark.parametrize(
    ("properties", "leak_l_s", "step_m3"),
    [(1500, 2.0, 0.01), (200, 0.2, 0.1), (40, 0.05, 0.01)],
    ids=["town", "village, coarse register", "hamlet"],
)
def test_limits_hold_the_truth_on_95_nights_of_100(
    make_network: Any,
    make_reduced: Any,
    no_works: Any,
    properties: int,
    leak_l_s: float,
    step_m3: float,
) -> None:
    """Coverage under the assumed errors, from nights drawn independently of the formulas.

    Each of 1500 'nights' is another world with its own meter error and true mean use, because
    those are the same on all nights of one zone; no two are neighbours, or the worlds' distance
    would pass for scatter of one zone. Regression of our own method, fixed seed.
    """
    rng = np.random.default_rng(20260301)
    count = 1500
    nights = pd.date_range("2020-01-01", periods=count, freq="2D")
    mean_l_s = properties * 1.7 / 3600 * (1 + rng.normal(0, 0.4 / 1.96, count))
    bursts = rng.poisson(np.maximum(mean_l_s, 0) * 7200 / 6.0)
    use_l_s = np.array([rng.gamma(5.0, 6.0 / 5.0, n).sum() for n in bursts]) / 7200
    building = np.abs(rng.normal(0.1, 0.02, count))
    volume_m3 = (leak_l_s + use_l_s + building) * 7.2 * (1 + rng.normal(0, 0.02 / 1.96, count))
    begin = rng.uniform(0, 1e4, count)
    shown = (np.floor((begin + volume_m3) / step_m3) - np.floor(begin / step_m3)) * step_m3
    flows = pd.concat(
        pd.DataFrame(
            {
                "device_id": device,
                "night": nights,
                "flow_l_s": flow,
                "window_h": 2.0,
                "coverage_share": 1.0,
            }
        )
        for device, flow in (
            ("M2", shown / 7.2),
            ("C2", building * (1 + rng.normal(0, 0.02 / 1.96, count))),
        )
    )
    plain = make_network()
    taps = plain.connections.assign(use_class="household", properties=0)
    taps.loc["K5", "properties"] = properties
    found = night_balance(
        make_network(connections=taps),
        make_reduced(
            night_flows=flows,
            quality=register_of("M2", step_m3=step_m3),
        ),
        settings=Settings(),
        works=no_works,
    )
    south = found.nights[
        (found.nights["cell_id"] == "South") & (found.nights["status"] != "no_inflow")
    ]
    assert len(south) == count
    held = south["leakage_l_s_low"].le(leak_l_s) & south["leakage_l_s_high"].ge(leak_l_s)
    assert 0.92 < held.mean() < 0.99
    assert south["leakage_l_s"].mean() == pytest.approx(
        leak_l_s, abs=4 * south["leakage_l_s"].std() / np.sqrt(count)
    )


def test_scatter_beyond_the_allowances_widens_the_limits(
    make_network: Any, make_reduced: Any, no_works: Any, night_table: Any
) -> None:
    """Draws of 32 L where 6 L are allowed for: the record itself shows it, and coverage holds."""
    rng = np.random.default_rng(11)
    nights = pd.date_range("2025-01-01", periods=300, freq="D")
    use_l_s = 60 * 1.7 / 3600
    drawn = rng.poisson(use_l_s * 7200 / 32.0, 300) * 32.0 / 7200
    flows = night_table(nights, {"M2": 0.05 + drawn})
    taps = make_network().connections.assign(use_class="household", properties=0)
    taps.loc["K5", "properties"] = 60
    found = night_balance(
        make_network(connections=taps),
        make_reduced(night_flows=flows),
        settings=Settings(allowances={"household": {"l_property_h": 1.7, "spread_share": 0.0}}),
        works=no_works,
    )
    south = found.nights[found.nights["cell_id"] == "South"]
    held = south["leakage_l_s_low"].le(0.05) & south["leakage_l_s_high"].ge(0.05)
    assert 0.92 < held.mean() < 0.99
    modelled = 1.96 * np.sqrt(1.2 * 6.0 * use_l_s / 7200)
    assert ((south["leakage_l_s"] - 0.05).abs() <= modelled).mean() < 0.75
