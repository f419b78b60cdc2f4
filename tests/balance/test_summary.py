"""Each zone over its recent nights."""

from __future__ import annotations

from typing import Any

import numpy as np
import pandas as pd
import pytest

from district.balance import district_balance
from district.balance.summary import recent
from district.settings import Night, Settings


def zones_of(network: Any, reduced: Any, works: Any, settings: Any = None) -> pd.DataFrame:
    found = district_balance(network, reduced, settings=settings or Settings(), works=works)
    return found.zones.set_index("cell_id")


def test_recent_takes_the_last_usable_rows() -> None:
    usable = np.array([[True, True], [True, False], [False, False], [True, False]])
    assert recent(usable, count=2).tolist() == [
        [False, True],
        [True, False],
        [False, False],
        [True, False],
    ]


def test_worst_zone_first(make_network: Any, make_reduced: Any, no_works: Any) -> None:
    zones = zones_of(make_network(), make_reduced(), no_works)
    assert list(zones.index) == ["South", "North"]
    assert zones.loc["South", "excess_l_s"] > zones.loc["North", "excess_l_s"]
    assert zones.loc["South", "name"] == "South End"
    assert zones.loc["South", "parent_cell_id"] == "North"


def test_a_zone_without_figures_comes_last(
    make_network: Any, make_reduced: Any, no_works: Any, night_table: Any, nights: Any
) -> None:
    flows = night_table(nights, {"M2": 0.4})
    zones = zones_of(make_network(), make_reduced(night_flows=flows), no_works)
    assert list(zones.index) == ["South", "North"]
    assert zones["nights_count"].tolist() == [20, 0]
    assert np.isnan(zones.loc["North", "leakage_m3_d"])


def test_identical_nights_shrink_only_the_random_part(
    make_network: Any, make_reduced: Any, no_works: Any
) -> None:
    zones = zones_of(make_network(), make_reduced(), no_works)
    use = 60 * 1.7 / 3600
    # The laundry without an allowance takes the household's: one class, not two.
    systematic = np.hypot(0.02 * 0.4, 0.4 * use)
    random = 1.96 * np.sqrt((1 + (0.9 / 1.96) ** 2) * 6 * use / 7200) * np.sqrt(np.pi / 2 / 20)
    south = zones.loc["South"]
    assert south["leakage_l_s_high"] - south["leakage_l_s"] == pytest.approx(
        np.hypot(systematic, random)
    )


def test_observed_scatter_counts_where_it_is_larger(
    make_network: Any, make_reduced: Any, no_works: Any, night_table: Any, nights: Any
) -> None:
    calm = zones_of(make_network(), make_reduced(), no_works).loc["South"]
    wild_flow = 0.4 + 0.2 * (np.arange(20) % 3 - 1)
    flows = night_table(nights, {"M1": 1.5, "M2": wild_flow, "B1": 0.2})
    wild = zones_of(make_network(), make_reduced(night_flows=flows), no_works).loc["South"]
    assert wild["leakage_l_s"] == pytest.approx(calm["leakage_l_s"])
    assert wild["leakage_l_s_high"] - wild["leakage_l_s"] > 2 * (
        calm["leakage_l_s_high"] - calm["leakage_l_s"]
    )


def test_one_odd_night_and_nights_with_works_move_nothing(
    make_network: Any, make_reduced: Any, no_works: Any, night_table: Any, nights: Any
) -> None:
    plain = zones_of(make_network(), make_reduced(), no_works)
    flow = np.full(20, 0.4)
    flow[12] = 30.0
    flow[14:] = 5.0
    flows = night_table(nights, {"M1": flow + 0.6, "M2": flow, "B1": 0.2})
    works = pd.DataFrame(
        {
            "start": [nights[14]],
            "end": [nights[19] + pd.Timedelta(hours=12)],
            "kind": ["flushing"],
            "place_id": ["South"],
        }
    )
    zones = zones_of(make_network(), make_reduced(night_flows=flows), works)
    assert zones.loc["South", "leakage_l_s"] == pytest.approx(plain.loc["South", "leakage_l_s"])
    assert zones.loc["South", "nights_count"] == 14


def test_only_the_recent_nights_count(
    make_network: Any, make_reduced: Any, no_works: Any, night_table: Any, nights: Any
) -> None:
    flow = np.where(np.arange(20) < 13, 0.9, 0.4)
    flows = night_table(nights, {"M1": 1.2, "M2": flow})
    week = Settings(night=Night(recent_nights=7))
    zones = zones_of(make_network(), make_reduced(night_flows=flows), no_works, week)
    assert zones.loc["South", "nights_count"] == 7
    assert zones.loc["South", "leakage_l_s"] == pytest.approx(0.4 - 60 * 1.7 / 3600)


def test_size_figures_follow_from_the_leakage(
    make_network: Any, make_reduced: Any, no_works: Any
) -> None:
    south = zones_of(make_network(), make_reduced(), no_works).loc["South"]
    assert south["leakage_m3_d"] == pytest.approx(south["leakage_l_s"] * 24 * 3.6)
    assert south["leakage_l_connection_d"] == pytest.approx(south["leakage_m3_d"] * 1000 / 3)
    assert south["leakage_m3_km_d"] == pytest.approx(south["leakage_m3_d"] / 2.0)
    unavoidable = (18 * 2.0 + 0.8 * 3 + 25 * 0.1) * 40.0 / 1000
    assert south["leakage_index"] == pytest.approx(south["leakage_m3_d"] / unavoidable)
    assert south["index_note"].startswith("too small")
    assert south["target_band"] == "D"
    assert south["inflow_m3_d"] == 50.0
    assert south["inflow_m3_d_high"] == pytest.approx(51.0)


def test_a_zone_without_connections_has_no_figure_by_connection(
    make_network: Any, make_reduced: Any, no_works: Any
) -> None:
    plain = make_network()
    cells = plain.cells.assign(connections_count=0, mains_km=0.0, private_km=0.0)
    south = zones_of(make_network(cells=cells), make_reduced(), no_works).loc["South"]
    assert np.isnan(south["leakage_l_connection_d"])
    assert np.isnan(south["leakage_m3_km_d"])
    assert np.isnan(south["leakage_index"])
    assert south["target_band"] == ""


def test_daily_inflow_errs_by_the_plate_at_its_mean_flow(
    make_network: Any, make_reduced: Any, no_works: Any
) -> None:
    # ISO 4064-1 / OIML R 49-1, class 2: ±5 % below Q2 (seen), 1.6 Q1 (from memory). Q3 250 m³/h
    # and R 125 give Q1 2 and Q2 3.2 m³/h; 50 m³/d are 2.083 m³/h.
    meters = make_network().meters.assign(q3_m3_h=250.0, ratio_r=125.0)
    south = zones_of(make_network(meters=meters), make_reduced(), no_works).loc["South"]
    assert south["inflow_m3_d"] == 50.0
    assert south["inflow_m3_d_low"] == pytest.approx(47.5)
    assert south["inflow_m3_d_high"] == pytest.approx(52.5)
