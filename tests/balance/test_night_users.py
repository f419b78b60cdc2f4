"""Users out of the ordinary: who is listed, and why."""

from __future__ import annotations

from typing import Any

import numpy as np
import pandas as pd
import pytest

from district.balance import night_balance, night_users
from district.schema import check
from district.schema.night_tables import NIGHT_USERS
from district.settings import Allowance, Night, Settings

ONE_TRADE_L_S = 8.0 / 3600


@pytest.fixture
def told(make_network: Any, make_reduced: Any, night_table: Any, no_works: Any, nights: Any) -> Any:
    def listed(
        flows: dict[str, Any],
        *,
        works: Any = no_works,
        settings: Settings | None = None,
    ) -> pd.DataFrame:
        network = make_network()
        reduced = make_reduced(night_flows=night_table(nights, {"M1": 3.0, "M2": 1.0} | flows))
        chosen = settings or Settings()
        night = night_balance(network, reduced, settings=chosen, works=works)
        return night_users(network, reduced, night, settings=chosen).set_index("meter_id")

    return listed


def test_a_user_large_in_itself_is_listed(told: Any, nights: Any) -> None:
    """B1 stands for one shop; its neighbours' allowance plays no part."""
    found = told({"B1": 0.5 + 0.01 * np.resize([-1, 0, 1], len(nights))})
    row = found.loc["B1"]
    assert row[["cell_id", "role", "use_class"]].tolist() == ["North", "building", "commercial"]
    assert row[["properties_count", "nights_count"]].tolist() == [1, 20]
    assert row["night_use_l_s"] == pytest.approx(0.5)
    assert row["allowance_l_s"] == pytest.approx(ONE_TRADE_L_S)
    assert row["zone_share"] == pytest.approx(0.5 / 2.0)
    assert row["reason"] == (
        "0.5 L/s at night, exceptional from 0.14 L/s on; 225 times what its class of use is "
        "allowed; 25 % of the zone's night inflow; at least 0.49 L/s on each of the last "
        "20 nights, as a leak behind the meter or a plant that never stops would draw"
    )


def test_limits_hold_the_meters_error_and_the_scatter_of_the_nights(told: Any, nights: Any) -> None:
    steady = told({"B1": 0.5}).loc["B1"]
    assert steady["night_use_l_s_high"] == pytest.approx(0.5 * 1.04)
    use = 0.5 + 0.1 * np.resize([-1.0, 1.0, 0.0, -0.5, 0.5], len(nights))
    found = told({"B1": use}).loc["B1"]
    scatter = 1.4826 * 0.05 * np.sqrt(np.pi / 2) / np.sqrt(20)
    half = 1.96 * np.hypot(0.04 * 0.5 / 1.96, scatter)
    assert found["night_use_l_s_low"] == pytest.approx(0.5 - half)
    inflow = 0.02 * np.hypot(3.0, 1.0) / 2.0
    steady_half = 0.25 * np.hypot(0.04, inflow)
    assert steady["zone_share_high"] == pytest.approx(0.25 + steady_half)


def test_ordinary_users_are_not_listed(told: Any) -> None:
    assert told({"B1": ONE_TRADE_L_S, "C1": 4 * ONE_TRADE_L_S, "C2": 0.0}).empty
    assert told({}).empty


def test_a_small_user_is_listed_against_its_class_from_a_tenth_of_the_setting_on(
    told: Any,
) -> None:
    found = told({"C1": 0.03, "B1": 0.013}, settings=Settings(night=Night(exceptional_l_s=0.14)))
    assert list(found.index) == ["C1"]
    # Two shops behind one meter: 0.03 / (2 x 8 / 3600) = 6.75.
    assert found.loc["C1", "properties_count"] == 2
    assert found.loc["C1", "reason"].startswith(
        "7 times what its class of use is allowed; at least"
    )
    lower = told({"B1": 0.013}, settings=Settings(night=Night(exceptional_l_s=0.05)))
    assert list(lower.index) == ["B1"]


def test_a_part_of_the_zone_is_reason_enough(told: Any) -> None:
    allowed = Settings(
        night=Night(exceptional_l_s=0.5),
        allowances={"household": Allowance(l_property_h=200.0)},
    )
    found = told({"M2": 1.0, "C2": 0.2}, settings=allowed)
    assert found.loc["C2", "reason"].startswith("20 % of the zone's night inflow; at least 0.2 L/s")


def test_a_flow_that_pauses_is_not_called_steady(told: Any, nights: Any) -> None:
    use = np.full(len(nights), 0.5)
    use[4] = 0.0
    reason = told({"B1": use}).loc["B1", "reason"]
    assert "on each of the last" not in reason
    few = np.full(len(nights), np.nan)
    few[-5:] = 0.5
    row = told({"B1": few}).loc["B1"]
    assert row["nights_count"] == 5
    assert "on each of the last" not in row["reason"]


def test_only_recent_nights_without_works_count(told: Any, nights: Any) -> None:
    use = np.full(len(nights), 0.5)
    use[:10], use[-1] = 0.0, 5.0
    works = pd.DataFrame(
        {
            "start": [nights[-1] + pd.Timedelta(hours=1)],
            "end": [nights[-1] + pd.Timedelta(hours=4)],
            "kind": ["fire_use"],
            "place_id": ["North"],
        }
    )
    week = Settings(night=Night(recent_nights=7))
    row = told({"B1": use}, works=works, settings=week).loc["B1"]
    assert row["nights_count"] == 7
    assert row["night_use_l_s_high"] == pytest.approx(0.5 * 1.04)


def test_the_largest_comes_first_and_the_table_is_as_declared(told: Any) -> None:
    found = told({"B1": 0.2, "C1": 0.6, "C2": 0.3}).reset_index()
    assert found["meter_id"].tolist() == ["C1", "C2", "B1"]
    assert tuple(found.columns) == NIGHT_USERS.names()
    _, findings = check(NIGHT_USERS, found, source="night_users")
    assert findings == ()


def test_a_class_without_an_allowance_counts_as_household(told: Any) -> None:
    """C2 is a household of 29 properties; a laundry has none of its own."""
    found = told({"C2": 0.3})
    assert found.loc["C2", "allowance_l_s"] == pytest.approx(29 * 1.7 / 3600)


def test_over_the_lowest_hour_where_the_window_rolls(
    make_network: Any, make_reduced: Any, no_works: Any, nights: Any
) -> None:
    rows = [("North", "M1", 2.0), ("North", "M2", 1.0), ("North", "B1", 0.4)]
    hours = pd.concat(
        pd.DataFrame(
            {
                "cell_id": cell,
                "device_id": device,
                "night": nights,
                "flow_l_s": flow,
                "window_h": 1.0,
                "coverage_share": 1.0,
            }
        )
        for cell, device, flow in rows
    )
    rolling = Settings(night=Night(window="rolling"))
    network, reduced = make_network(), make_reduced(lowest_hours=hours)
    night = night_balance(network, reduced, settings=rolling, works=no_works)
    found = night_users(network, reduced, night, settings=rolling).set_index("meter_id")
    assert found.loc["B1", "night_use_l_s"] == pytest.approx(0.4)
    assert found.loc["B1", "zone_share"] == pytest.approx(0.4, abs=0.01)


def test_no_nights_list_no_users(make_network: Any, make_reduced: Any, no_works: Any) -> None:
    network, reduced = make_network(), make_reduced()
    bare = make_reduced(night_flows=reduced.night_flows.iloc[:0])
    night = night_balance(network, bare, settings=Settings(), works=no_works)
    assert night_users(network, bare, night, settings=Settings()).empty
