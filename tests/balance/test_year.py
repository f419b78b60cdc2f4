"""The year of the district and its zones."""

from __future__ import annotations

from typing import Any

import numpy as np
import pandas as pd
import pytest

from district.balance import district_balance
from district.balance.annual import BOTTOM_UP
from district.settings import Settings


def year_of(network: Any, reduced: Any, works: Any, **sections: Any) -> Any:
    found = district_balance(network, reduced, settings=Settings(**sections), works=works)
    return found, found.annual.set_index(["cell_id", "component"])


def test_district_is_the_sum_of_its_cells(
    make_network: Any, make_reduced: Any, no_works: Any
) -> None:
    _, lines = year_of(make_network(), make_reduced(), no_works)
    volumes = lines["volume_m3"].unstack("component")
    np.testing.assert_allclose(volumes.loc["district"], volumes.drop("district").sum())


def test_district_input_limits_come_from_the_outer_meter_alone(
    make_network: Any, make_reduced: Any, no_works: Any
) -> None:
    _, lines = year_of(make_network(), make_reduced(), no_works)
    whole = lines.loc[("district", "system input volume")]
    assert whole["volume_m3"] == pytest.approx(130 * 365)
    assert whole["volume_m3_high"] == pytest.approx(130 * 365 * 1.02)
    north = lines.loc[("North", "system input volume")]
    assert north["volume_m3_high"] - north["volume_m3"] == pytest.approx(
        365 * 0.02 * np.hypot(130, 50)
    )


def test_input_errs_by_the_plate_at_its_mean_flow_and_users_at_ordinary_flow(
    make_network: Any, make_reduced: Any, no_works: Any
) -> None:
    # ISO 4064-1 / OIML R 49-1, class 2: ±5 % from Q1 to Q2 (seen), 1.6 Q1 (from memory). M1 with
    # Q3 500 m³/h and R 100 has Q1 5 and Q2 8 m³/h; 130 m³/d are 5.42 m³/h. M2 states no plate.
    # C2 with Q3 63 m³/h and R 100: its mean flow is below Q1, but its user draws in spurts.
    plates = {"M1": 500.0, "C2": 63.0}
    meters = make_network().meters
    meters = meters.assign(q3_m3_h=meters.index.map(plates).astype(float), ratio_r=100.0)
    _, lines = year_of(make_network(meters=meters), make_reduced(), no_works)
    whole = lines.loc[("district", "system input volume")]
    assert whole["volume_m3_high"] == pytest.approx(130 * 365 * 1.05)
    north = lines.loc[("North", "system input volume")]
    assert north["volume_m3_high"] - north["volume_m3"] == pytest.approx(
        365 * np.hypot(0.05 * 130, 0.02 * 50)
    )
    south = lines.loc[("South", "billed metered consumption")]
    assert south["volume_m3_high"] == pytest.approx(365 * 10 * 1.02)


def test_metered_and_unmetered_use_by_hand(
    make_network: Any, make_reduced: Any, no_works: Any
) -> None:
    _, lines = year_of(make_network(), make_reduced(), no_works)
    metered = lines.loc[("district", "billed metered consumption")]
    assert metered["volume_m3"] == pytest.approx(365 * (25 + 4 + 10))
    assert metered["volume_m3_high"] / 365 - 39 == pytest.approx(
        np.sqrt((0.04 * 25) ** 2 + (0.02 * 4) ** 2 + (0.02 * 10) ** 2)
    )
    unmetered = lines.loc[("district", "billed unmetered consumption")]
    assert unmetered["volume_m3"] == pytest.approx(365 * 131 * 0.35)
    assert unmetered["volume_m3_high"] == pytest.approx(1.4 * unmetered["volume_m3"])


def test_bottom_up_is_the_mean_of_the_nights(
    make_network: Any, make_reduced: Any, no_works: Any
) -> None:
    found, lines = year_of(make_network(), make_reduced(), no_works)
    mean = found.nights.groupby("cell_id")["leakage_m3_d"].mean()
    for cell in ("North", "South"):
        row = lines.loc[(cell, BOTTOM_UP)]
        assert row["volume_m3"] == pytest.approx(365 * mean[cell])
        assert row["volume_m3_low"] < row["volume_m3"] < row["volume_m3_high"]


def test_only_the_last_365_nights_count_however_many_of_them_are_known(
    make_network: Any, make_reduced: Any, no_works: Any, night_table: Any
) -> None:
    # The first 135 of 500 nights leak ten times as much; of the last 365 every second is known.
    nights = pd.date_range("2024-01-01", periods=500, freq="D")
    number = np.arange(500)
    inlet = np.where(number < 135, 10.0, np.where(number % 2, np.nan, 1.0))
    flows = night_table(nights, {"M1": inlet, "M2": 0.4, "B1": 0.2})
    found, lines = year_of(make_network(), make_reduced(night_flows=flows), no_works)
    leakage = found.nights.query("cell_id == 'North'").set_index("night")["leakage_m3_d"]
    year = lines.loc[("North", BOTTOM_UP), "volume_m3"]
    assert year == pytest.approx(365 * leakage.iloc[135:].mean())
    assert year < 0.2 * 365 * leakage.mean()


def test_only_the_last_365_days_count(
    make_network: Any, make_reduced: Any, no_works: Any, day_table: Any
) -> None:
    days = pd.date_range("2024-01-01", periods=500, freq="D")
    daily = day_table(days, {"M1": np.where(np.arange(500) < 135, 999.0, 130.0), "M2": 50.0})
    found, lines = year_of(make_network(), make_reduced(daily_volumes=daily), no_works)
    volume = lines.loc[("district", "system input volume"), "volume_m3"]
    assert volume == pytest.approx(130 * 365)
    assert not any("scaled to 365" in s for s in found.basis.assumptions)


def test_a_zone_without_a_complete_day_is_left_out_and_said(
    make_network: Any, make_reduced: Any, no_works: Any, day_table: Any, nights: Any
) -> None:
    daily = day_table(nights, {"M2": 50.0})
    found, lines = year_of(make_network(), make_reduced(daily_volumes=daily), no_works)
    assert set(lines.index.get_level_values(0)) == {"district", "South"}
    assert "Annual balance: no complete day of inflow in North." in found.basis.assumptions


def test_only_customers_meters_are_taken_to_read_low(
    make_network: Any, make_reduced: Any, no_works: Any
) -> None:
    found, lines = year_of(make_network(), make_reduced(), no_works)
    missed = lines["volume_m3"].xs("customer meter under-registration", level="component")
    by_hand = {"North": 365 * 4.0 * (1 / 0.98 - 1), "South": 365 * 10.0 * (1 / 0.98 - 1)}
    assert missed["North"] == pytest.approx(by_hand["North"])
    assert missed["South"] == pytest.approx(by_hand["South"])
    assert missed["district"] == pytest.approx(sum(by_hand.values()))
    assert any("(not those of buildings) read 2" in s for s in found.basis.assumptions)


def test_an_outlet_exports_and_what_it_exports_is_input_and_billed(
    make_network: Any, make_reduced: Any, no_works: Any, day_table: Any, nights: Any
) -> None:
    plain = make_network()
    edges = pd.concat(
        [
            plain.boundaries,
            plain.boundaries.iloc[[1]].assign(
                meter_id="X", upstream_cell_id="South", downstream_cell_id="", role="outlet"
            ),
        ],
        ignore_index=True,
    )
    daily = day_table(nights, {"M1": 130.0, "M2": 50.0, "X": 20.0, "B1": 25.0, "C1": 4, "C2": 10})
    network = make_network(boundaries=edges)
    _, lines = year_of(network, make_reduced(daily_volumes=daily), no_works)
    volume = lines["volume_m3"]
    assert volume["district", "system input volume"] == pytest.approx(365 * 130)
    assert volume["district", "billed water exported"] == pytest.approx(365 * 20)
    assert volume["South", "system input volume"] == pytest.approx(365 * 50)
    assert volume["South", "billed water exported"] == pytest.approx(365 * 20)
    assert volume["North", "billed water exported"] == 0
    exported = lines.loc[("district", "billed water exported")]
    assert exported["volume_m3_high"] == pytest.approx(365 * 20 * 1.02)
    input_limits = lines.loc[("district", "system input volume")]
    assert input_limits["volume_m3_high"] == pytest.approx(365 * 130 * 1.02)
    used = volume["district"][["billed metered consumption", "billed unmetered consumption"]].sum()
    assert volume["district", "non-revenue water"] == pytest.approx(365 * 110 - used)


def test_classes_that_are_not_billed(make_network: Any, make_reduced: Any, no_works: Any) -> None:
    plain, usual = year_of(make_network(), make_reduced(), no_works)
    found, lines = year_of(
        make_network(), make_reduced(), no_works, annual={"unbilled_classes": ["commercial", "spa"]}
    )
    volume = lines["volume_m3"]
    # B1 and C1 serve commercial users, C2 a household; no commercial user is without a meter.
    assert volume["district", "unbilled metered consumption"] == pytest.approx(365 * 29)
    assert volume["district", "billed metered consumption"] == pytest.approx(365 * 10)
    for name in ("real losses", "authorised consumption"):
        assert volume["district", name] == pytest.approx(usual["volume_m3"]["district", name])
    assert found.annual["cell_id"].tolist() == plain.annual["cell_id"].tolist()
    said = "\n".join(found.basis.assumptions)
    assert "use of commercial and spa is not billed" in said
    assert "no connection is of the unbilled class spa" in said


def test_use_by_allowance_of_a_class_that_is_not_billed(
    make_network: Any, make_reduced: Any, no_works: Any
) -> None:
    _, lines = year_of(
        make_network(), make_reduced(), no_works, annual={"unbilled_classes": ["household"]}
    )
    volume = lines["volume_m3"]["district"]
    # Of 131 properties without a meter one is a laundry, which takes the household allowance.
    assert volume["billed unmetered consumption"] == pytest.approx(365 * 0.35)
    assert volume["unbilled unmetered consumption"] == pytest.approx(
        365 * (130 * 0.35 + 0.005 * 130)
    )


def test_parts_of_the_real_losses_add_up(
    make_network: Any, make_reduced: Any, no_works: Any
) -> None:
    _, lines = year_of(make_network(), make_reduced(), no_works, annual={"tank_losses_m3_d": 2.0})
    for area in ("district", "North", "South"):
        volume = lines["volume_m3"][area]
        parts = [f"leakage {x}" for x in ("on mains", "on service pipes up to the meter")]
        total = volume[[*parts, "leakage and overflow of tanks"]].sum()
        assert total == pytest.approx(volume["real losses"])
        for part in parts:
            row = lines.loc[(area, part)]
            assert row["volume_m3_low"] < row["volume_m3"] < row["volume_m3_high"]
            assert row["rests_on"] == "apportioned"
    assert lines["volume_m3"]["district", "leakage and overflow of tanks"] == 730
    # By input: 80 of 130 m³ a day stay in North.
    assert lines["volume_m3"]["North", "leakage and overflow of tanks"] == pytest.approx(
        730 * 80 / 130
    )


def test_imported_water_is_told_of_the_district(
    make_network: Any, make_reduced: Any, no_works: Any
) -> None:
    found, lines = year_of(
        make_network(), make_reduced(), no_works, annual={"imported_meters": ["M1", "M2", "Q"]}
    )
    assert list(found.annual["component"][:3]) == [
        "system input volume",
        "water from own sources",
        "water imported",
    ]
    assert lines.loc[("district", "water imported"), "volume_m3"] == pytest.approx(365 * 130)
    assert lines.loc[("district", "water from own sources"), "volume_m3"] == pytest.approx(0)
    assert ("North", "water imported") not in lines.index
    assert any("M2 and Q brings no water over the edge" in s for s in found.basis.assumptions)
