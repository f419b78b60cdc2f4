"""Daily volumes of zone meters and users."""

from __future__ import annotations

from typing import Any

import numpy as np
import pandas as pd
import pytest

from district.balance.metering import metering
from district.balance.volumes import Volumes, daily_volumes
from district.settings import Settings


def brought(network: Any, daily: pd.DataFrame) -> Volumes:
    return daily_volumes(network, metering(network), daily, settings=Settings())


def test_net_inflow_is_the_signed_sum(make_network: Any, make_reduced: Any) -> None:
    found = brought(make_network(), make_reduced().daily_volumes)
    assert found.inflow_m3[0].tolist() == [80.0, 50.0]
    assert found.consumption_m3()[0] == pytest.approx(
        [25 + 4 + 100 * 0.35, 10 + 31 * 0.35]  # metered, and households without a meter
    )


def test_a_day_read_almost_whole_is_scaled_and_half_a_day_left_out(
    make_network: Any, make_reduced: Any
) -> None:
    daily = make_reduced().daily_volumes
    m1 = daily.index[daily["device_id"] == "M1"]
    daily.loc[m1[0], ["volume_m3", "coverage_share"]] = [96.0, 0.96]
    daily.loc[m1[1], ["volume_m3", "coverage_share"]] = [50.0, 0.5]
    daily.loc[m1[2], "volume_m3"] = np.nan
    found = brought(make_network(), daily)
    assert found.inflow_m3[0].tolist() == pytest.approx([50.0, 50.0])
    assert np.isnan(found.inflow_m3[1:3, 0]).all()
    assert found.inflow_m3[1:3, 1].tolist() == [50.0, 50.0]


def test_missing_user_days_take_nearby_medians_and_are_said(
    make_network: Any, make_reduced: Any
) -> None:
    daily = make_reduced().daily_volumes
    b1 = daily.index[daily["device_id"] == "B1"]
    daily = daily.drop(b1[5])
    found = brought(make_network(), daily)
    at = list(found.devices.ids).index("B1")
    assert found.user_m3[5, at] == 25.0
    assert any("Missing days of user meters (B1): 1;" in s for s in found.assumptions)


def test_a_user_meter_without_readings_counts_by_allowance(
    make_network: Any, make_reduced: Any, nights: Any
) -> None:
    daily = make_reduced().daily_volumes
    daily.loc[daily["device_id"] == "C2", "day"] -= pd.Timedelta(days=400)
    found = brought(make_network(), daily)
    assert "C2" not in found.devices.ids
    assert found.consumption_m3()[0, 1] == pytest.approx(60 * 0.35)
    assert len(found.days) == len(nights)


def test_billed_reads_are_said_to_be_spread(make_network: Any, make_reduced: Any) -> None:
    daily = make_reduced().daily_volumes
    daily.loc[daily["device_id"] == "C2", "spread_share"] = 1.0
    found = brought(make_network(), daily)
    assert any(
        "spread evenly over the days between (33 % of user days)" in s for s in found.assumptions
    )


def test_edge_means_cancel_between_cells(make_network: Any, make_reduced: Any) -> None:
    network = make_network()
    found = brought(network, make_reduced().daily_volumes)
    counted = np.isfinite(found.inflow_m3)
    means = found.edge_means_m3_d(metering(network), counted=counted).toarray()
    assert means.tolist() == [[130.0, -50.0], [0.0, 50.0]]
    assert means.sum(axis=0).tolist() == [130.0, 0.0]


@pytest.mark.parametrize(
    ("ratio_r", "share"),
    # ISO 4064-1 / OIML R 49-1, class 2: ±5 % from Q1 to Q2, ±2 % above (seen); Q2 = 1.6 Q1 (from
    # memory). 50 m³/d are 2.083 m³/h. Q3 250 m³/h: R 125 has Q1 2 and Q2 3.2 m³/h, R 200 Q1 1.25
    # and Q2 2.0 m³/h.
    [(125.0, 0.05), (200.0, 0.02)],
)
def test_volumes_err_as_the_plate_says_at_their_mean_flow(
    make_network: Any, make_reduced: Any, ratio_r: float, share: float
) -> None:
    meters = make_network().meters.assign(q3_m3_h=250.0, ratio_r=ratio_r)
    meters.loc["M1", ["q3_m3_h", "ratio_r"]] = np.nan
    network = make_network(meters=meters)
    found = brought(network, make_reduced().daily_volumes)
    counted = np.isfinite(found.inflow_m3)
    errors = found.edge_errors_m3_d(metering(network), counted=counted)
    assert errors.toarray() == pytest.approx(np.array([[2.6, -50 * share], [0.0, 50 * share]]))
    # A meter between two cells cancels.
    assert errors.sum(axis=0).tolist() == pytest.approx([2.6, 0.0])


def test_a_meter_whose_flow_turns_round_errs_by_what_passed_either_way(
    make_network: Any, nights: Any, day_table: Any
) -> None:
    daily = day_table(nights, {"M1": 130.0, "M2": 1.0})
    turning = daily.assign(gross_m3=np.where(daily["device_id"] == "M2", 60.0, np.nan))
    counted = np.ones((len(nights), 2), dtype=bool)
    network = make_network()
    found = [
        brought(network, table).edge_errors_m3_d(metering(network), counted=counted).toarray()
        for table in (daily, turning)
    ]
    # 2 % of the net where nothing else is known, 2 % of 60 m³ where they passed.
    assert found[0] == pytest.approx(np.array([[2.6, -0.02], [0.0, 0.02]]))
    assert found[1] == pytest.approx(np.array([[2.6, -1.2], [0.0, 1.2]]))
    # A plate whose Q1 is 8.64 m³/d is not run below it, though the net is.
    meters = network.meters.assign(q3_m3_h=[np.nan, 36.0, np.nan, np.nan, np.nan], ratio_r=100.0)
    network = make_network(meters=meters.assign(accuracy_class=2))
    plate = brought(network, turning).edge_errors_m3_d(metering(network), counted=counted)
    assert plate.toarray()[1, 1] == pytest.approx(1.2)


def test_a_meter_between_cells_cancels_though_it_stood_still(
    make_network: Any, nights: Any, day_table: Any
) -> None:
    meters = make_network().meters.assign(q3_m3_h=[np.nan, 36.0, np.nan, np.nan, np.nan])
    network = make_network(meters=meters.assign(ratio_r=100.0))
    found = brought(network, day_table(nights, {"M1": 130.0, "M2": 0.0}))
    counted = np.isfinite(found.inflow_m3)
    errors = found.edge_errors_m3_d(metering(network), counted=counted)
    # Q1 36/100 m³/h are 8.64 m³/d: that and 5 % of it may have passed unseen.
    still = 8.64 * 1.05
    assert errors.toarray() == pytest.approx(np.array([[2.6, -still], [0.0, still]]))
    assert errors.sum(axis=0).tolist() == pytest.approx([2.6, 0.0])
