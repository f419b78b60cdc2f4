from __future__ import annotations

import numpy as np
import pandas as pd

from district.detect.standing import numbered, standing
from district.schema import empty
from district.schema.stored import DAILY_VOLUMES, EMPTY_PERIODS, STILL_DAYS
from tests.detect.still_series import FIRST, household, network_of, quality_of, still_of


def daily(device: str, volumes_m3: list[float], *, coverage: float = 1.0) -> pd.DataFrame:
    days = pd.date_range(FIRST, periods=len(volumes_m3), freq="D")
    return pd.DataFrame(
        {
            "device_id": device,
            "day": days,
            "volume_m3": volumes_m3,
            "gross_m3": volumes_m3,
            "coverage_share": coverage,
            "spread_share": 0.0,
        }
    )


def test_devices_go_by_their_place_among_the_meters() -> None:
    frame = pd.DataFrame({"device_id": ["C", "A", "X", "C"], "day": [1, 2, 3, 4]})
    found = numbered(frame, pd.Index(["A", "B", "C"]))
    assert found["device_id"].to_list() == [2, 0, 2]
    assert found["day"].to_list() == [1, 2, 4]
    assert numbered(frame.iloc[:0], pd.Index(["A"])).empty


def test_a_meter_stands_as_its_last_day_and_its_last_four_weeks() -> None:
    litres = household(40, 1)
    litres[24 * 39 :] += 1.0
    litres[: 24 * 3] = 0.0
    net = network_of({"A": "Hall", "B": ""})
    stand = standing(
        still_of({"A": litres}),
        empty(EMPTY_PERIODS),
        empty(DAILY_VOLUMES),
        quality_of("A", "B"),
        net,
    )
    assert stand.own["meter_id"].to_list() == ["A"]
    row = stand.own.iloc[0]
    assert (row["days_count"], row["hours_count"]) == (28, 28 * 24)
    assert row["run_h"] >= 24
    assert row["spell_h"] < 24
    assert not row["daily"]


def test_days_without_flow_of_a_meter_read_daily_are_still_and_others_unknown() -> None:
    volumes = pd.concat([daily("A", [0.1, 0.0, 0.0, 0.2]), daily("B", [0.1] * 4, coverage=0.5)])
    net = network_of({"A": "", "B": ""})
    stand = standing(
        empty(STILL_DAYS), empty(EMPTY_PERIODS), volumes, quality_of("A", "B", step_h=24.0), net
    )
    assert stand.own["meter_id"].to_list() == ["A"]
    assert stand.rows["spell_h"].max() == 48
    assert bool(stand.own.iloc[0]["daily"])


def test_readings_that_end_long_before_the_others_are_stale() -> None:
    still = still_of({"A": household(20, 1), "B": household(40, 2)})
    net = network_of({"A": "", "B": ""})
    stand = standing(still, empty(EMPTY_PERIODS), empty(DAILY_VOLUMES), quality_of("A", "B"), net)
    assert stand.own["stale"].to_list() == [True, False]


def test_nothing_read_is_nothing_known_and_nothing_is_written_to() -> None:
    net = network_of({"A": ""})
    nothing = standing(
        empty(STILL_DAYS), empty(EMPTY_PERIODS), empty(DAILY_VOLUMES), quality_of(), net
    )
    assert nothing.own.empty
    still, quality = still_of({"A": household(3, 1)}), quality_of("A")
    before = still.copy(), quality.copy()
    standing(still, empty(EMPTY_PERIODS), empty(DAILY_VOLUMES), quality, net)
    pd.testing.assert_frame_equal(still, before[0])
    pd.testing.assert_frame_equal(quality, before[1])
    assert np.isfinite(still["hours_count"]).all()
