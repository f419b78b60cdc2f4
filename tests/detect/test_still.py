"""Whole series of hourly readings, and what is said of their meters."""

from __future__ import annotations

from typing import Any

import numpy as np
import pandas as pd
import pytest

from district.schema.columns import empty
from district.schema.outputs import EVENTS
from district.schema.stored import DAILY_VOLUMES, EMPTY_PERIODS, STILL_DAYS
from tests.detect.still_series import (
    checked,
    household,
    network_of,
    quality_of,
    registered,
    still_of,
)

L_D = 86400.0
DAYS = 60
HOUR, WEEKDAY = np.arange(24 * DAYS) % 24, np.arange(24 * DAYS) // 24 % 7
NOBODY = (HOUR < 7) | (HOUR >= 18) | (WEEKDAY >= 5)


def home(leak_l_d: float = 0.0, *, step_l: float = 1.0, seed: int = 3) -> np.ndarray:
    """Sixty days of people, the last forty with a leak, as a register shows them."""
    litres = household(DAYS, seed)
    litres[24 * 20 :] += leak_l_d / 24
    return registered(litres, step_l, offset_l=0.3 * step_l)


def school(extra: Any = 0.0, *, step_l: float = 10.0) -> np.ndarray:
    rng = np.random.default_rng(1)
    return registered(np.where(NOBODY, 0.0, 60.0 * rng.poisson(2, 24 * DAYS)) + extra, step_l)


# A drip, half a cup a minute and a running toilet: published rates, see tests/published.
@pytest.mark.parametrize(
    ("leak_l_d", "step_l", "verdict", "since"),
    [
        (0.0, 1.0, "still", False),
        (31.1, 1.0, "constant_flow", True),
        (170.3, 1.0, "constant_flow", True),
        (757.1, 1.0, "constant_flow", True),
        (0.0, 10.0, "still", False),
        (31.1, 10.0, "still", False),  # It cannot be told, and is little.
        (170.3, 10.0, "constant_flow", False),
        (757.1, 10.0, "constant_flow", True),
        (0.0, 100.0, "still", False),
        (170.3, 100.0, "below_resolution", False),
        (757.1, 100.0, "constant_flow", False),
    ],
)
def test_leaks_in_a_home_by_the_step_of_its_register(
    leak_l_d: float, step_l: float, verdict: str, *, since: bool
) -> None:
    row = checked(still_of({"A": home(leak_l_d, step_l=step_l)}), quality_of("A", step_l=step_l))
    found = row.loc["A"]
    assert found["verdict"] == verdict
    assert found["constant_l_s_low"] * L_D <= leak_l_d <= found["constant_l_s_high"] * L_D
    assert found["act"] == (verdict == "constant_flow" and found["constant_l_s"] * L_D >= 170)
    dated = pd.Timestamp("2025-03-23") if since else pd.NaT
    assert found["since"] == dated or (pd.isna(found["since"]) and not since)


def test_the_run_its_volume_and_its_cost() -> None:
    found = checked(still_of({"A": home(757.1)}), quality_of("A")).loc["A"]
    assert (found["run_d_low"], found["run_d_high"]) == (40, 40)
    true_m3 = 0.7571 * 40
    assert found["volume_m3_low"] <= true_m3 <= found["volume_m3_high"]
    assert found["cost_currency_year"] == pytest.approx(0.7571 * 365.25 * 2, rel=0.03)
    assert found["rests_on"] == "hourly readings"
    assert found["days_count"] == 28


def test_it_is_about_as_much_as_never_that_it_is() -> None:
    said = checked(still_of({"A": home(757.1)}), quality_of("A")).loc["A", "said"]
    assert "about as much as a toilet that runs on" in said
    assert "it is a toilet" not in said.lower()


def test_a_meter_coarser_than_its_house_says_what_could_hide() -> None:
    found = checked(still_of({"A": home(170.3, step_l=100.0)}), quality_of("A", step_l=100.0))
    said, smallest = found.loc["A", "said"], found.loc["A", "smallest_l_s"]
    assert "moves by 100 L" in said
    assert "could run unseen" in said
    assert smallest * 3600 == pytest.approx(100 / 13, rel=0.1)


def test_empty_hours_of_a_school_show_what_a_full_day_hides() -> None:
    hours = {
        "sound": school(),
        "leak": school(3.0),
        "late": school(np.where(np.arange(24 * DAYS) >= 24 * 40, 3.0, 0.0)),
        "cleaners": school(np.where((HOUR == 19) & (WEEKDAY < 5), 200.0, 0.0)),
        "cistern": school(np.where(HOUR % 3 == 1, 40.0, 0.0)),
    }
    found = checked(still_of(hours, empty=NOBODY), quality_of(*hours, step_l=10.0))
    assert found["verdict"].to_dict() == {
        "sound": "still", "leak": "constant_flow", "late": "constant_flow",
        "cleaners": "empty_flow", "cistern": "empty_flow",
    }  # fmt: skip
    for name in ("leak", "late"):
        row = found.loc[name]
        assert row["constant_l_s_low"] * 3600 <= 3.0 <= row["constant_l_s_high"] * 3600
        assert row["rests_on"] == "intervals in its empty hours"
    assert found.loc["late", "since"] == pd.Timestamp("2025-04-12")
    assert found.loc["cistern", "act"]
    assert not found.loc["cleaners", "act"]
    assert found.loc[["cleaners", "cistern"], "volume_m3"].isna().all()


def test_the_size_of_a_flow_that_never_stops_is_that_of_empty_hours_where_surer() -> None:
    still = still_of({"A": school(15.0)}, empty=NOBODY)
    found = checked(still, quality_of("A", step_l=10.0)).loc["A"]
    plain = checked(still.assign(empty_h=0.0), quality_of("A", step_l=10.0)).loc["A"]
    assert found["verdict"] == plain["verdict"] == "constant_flow"
    assert found["constant_l_s"] * 3600 == pytest.approx(15.0, rel=0.03)
    width = [r["constant_l_s_high"] - r["constant_l_s_low"] for r in (found, plain)]
    assert width[0] < width[1] / 3
    assert "empty hours" in found["rests_on"]


def test_holidays_of_a_school_are_no_death() -> None:
    litres = school()
    litres[24 * 30 :] = 0.0
    for settings, verdict in (
        ({}, "dead"),
        ({"holidays": [{"first": "2025-04-02", "last": "2025-05-06", "name": "break"}]}, "still"),
    ):
        found = checked(still_of({"A": litres}), quality_of("A", step_l=10.0), **settings)
        assert found.loc["A", "verdict"] == verdict
    assert "people were away" in found.loc["A", "said"]


@pytest.mark.parametrize("hours", [30, 100, 120])
def test_a_shift_that_works_five_nights_a_week_is_no_leak(hours: int) -> None:
    working = np.where(WEEKDAY < 5, 50.0 + np.arange(24 * DAYS) % 7, 0.0)[: 24 * 49 + hours]
    found = checked(still_of({"A": working}), quality_of("A")).loc["A"]
    assert (found["verdict"], found["act"]) == ("still", False)
    assert "as of a shift" in found["said"]


def test_a_building_that_draws_at_all_hours_is_told_but_needs_no_visit() -> None:
    drawn = 2.0 + np.random.default_rng(1).gamma(2.0, 60.0, 24 * 40)
    found = checked(still_of({"A": np.round(drawn)}), quality_of("A"))
    assert (found.loc["A", "verdict"], found.loc["A", "act"]) == ("constant_flow", False)
    assert "people who draw at all hours" in found.loc["A", "said"]


def test_a_process_that_never_stopped_is_asked_about_and_a_home_that_leaks_is_visited() -> None:
    litres = np.full(24 * 40, 150.0)
    begun = np.where(np.arange(24 * 40) < 24 * 9, household(40, 1), 150.0)
    still = still_of({"always": litres, "begun": begun, "home": litres})
    roles = ["building", "building", "customer"]
    net = network_of(dict.fromkeys(["always", "begun", "home"], ""), role=roles)
    found = checked(still, quality_of("always", "begun", "home"), network=net)
    assert found["act"].to_dict() == {"always": False, "begun": True, "home": True}
    assert "ask whether a process" in found.loc["always", "said"]
    # A gap in the readings is no beginning of the record.
    gap = still[~((still["device_id"] == "begun") & still["day"].dt.day.between(20, 26))]
    assert checked(gap, quality_of("always", "begun", "home"), network=net).loc["begun", "act"]


def test_a_dead_meter_beside_a_live_one_and_an_empty_house() -> None:
    dead = household(95, 5)
    dead[24 * DAYS :] = 0.0
    series = {"dead": dead, "live": household(95, 6), "empty": dead}
    net = network_of({"dead": "Hall", "live": "Hall", "empty": "House"})
    works = pd.DataFrame(
        {
            "start": [pd.Timestamp("2025-05-02", tz="UTC")],
            "end": [pd.Timestamp("2025-06-10", tz="UTC")],
            "kind": "empty",
            "place_id": "empty",
        }
    )
    found = checked(still_of(series), quality_of(*series), network=net, works=works)
    assert found["verdict"].to_dict() == {"dead": "dead", "live": "still", "empty": "still"}
    assert "while 1 other meter of the building went on" in found.loc["dead", "said"]
    assert found.loc["dead", "act"]
    assert not found.loc["empty", "act"]
    assert found.loc["dead", ["constant_l_s", "smallest_l_s"]].isna().all()


def test_a_meter_stuck_at_one_flow() -> None:
    still = still_of({"A": household(30, 1)})
    still.loc[still.index[-3:], ["hours_count", "still_count", "stuck_h"]] = [0.0, 0.0, 24.0]
    found = checked(still, quality_of("A", kind="electromagnetic")).loc["A"]
    assert (found["verdict"], found["act"]) == ("stuck", True)
    assert "exactly the same flow for 3 days" in found["said"]


def period(**more: Any) -> pd.DataFrame:
    row = {
        "device_id": "A",
        "start_utc": pd.Timestamp("2025-07-01", tz="UTC"),
        "end_utc": pd.Timestamp("2025-07-15", tz="UTC"),
        "inside_h": 336.0, "inside_m3": 0.0, "over_h": np.nan, "over_m3": np.nan,
        "usual_m3_h": np.nan, **more,
    }  # fmt: skip
    return pd.DataFrame([row], columns=list(EMPTY_PERIODS.names()))


def test_two_hand_readings_around_an_empty_time() -> None:
    nothing = empty(STILL_DAYS)
    quality = quality_of("A", step_h=336.0)
    leak = checked(nothing, quality, periods=period(inside_m3=2.4)).loc["A"]
    assert (leak["verdict"], leak["act"]) == ("empty_flow", True)
    assert leak["constant_l_s"] * L_D == pytest.approx(2400 / 14)
    assert leak["rests_on"].endswith("without anybody there, 2025-07-01 to 2025-07-15")
    none = checked(nothing, quality, periods=period()).loc["A"]
    assert (none["verdict"], none["act"]) == ("still", False)
    # In steps of a cubic metre, over two days: nearly half of one could have passed each day.
    coarse = quality_of("A", step_l=1000.0, step_h=48.0)
    end = pd.Timestamp("2025-07-03", tz="UTC")
    unsure = checked(nothing, coarse, periods=period(end_utc=end, inside_h=48.0)).loc["A"]
    assert unsure["verdict"] == "below_resolution"


def test_a_meter_read_too_seldom_or_too_short_is_not_judged() -> None:
    days = pd.DataFrame(
        {
            "device_id": "A", "day": pd.date_range("2025-03-03", periods=9), "volume_m3": 0.2,
            "gross_m3": 0.2, "coverage_share": 1.0, "spread_share": 0.0,
        },
        columns=list(DAILY_VOLUMES.names()),
    )  # fmt: skip
    seldom = checked(empty(STILL_DAYS), quality_of("A", step_h=24.0), volumes=days).loc["A"]
    assert seldom["verdict"] == "too_few"
    assert "every 24 h" in seldom["said"]
    assert seldom["rests_on"] == "readings a day or more apart"
    short = checked(still_of({"A": household(1, 1)}), quality_of("A")).loc["A"]
    assert (short["verdict"], short["act"]) == ("too_few", False)
    days.loc[4, "gross_m3"] = 0.0
    once = checked(empty(STILL_DAYS), quality_of("A", step_h=24.0), volumes=days).loc["A"]
    assert once["verdict"] == "still"


def test_a_meter_whose_readings_ended_is_not_judged() -> None:
    still = still_of({"A": home(757.1)[: 24 * 30], "B": home()})
    found = checked(still, quality_of("A", "B")).loc["A"]
    assert found["verdict"] == "too_few"
    assert found["said"] == "No readings since 2025-04-01."
    assert pd.isna(found["since"])


def test_an_open_event_of_the_same_meter_is_named() -> None:
    told = pd.DataFrame(
        {
            "event_id": ["E-1", "E-2", "E-3"],
            "place_kind": ["building", "building", "zone"],
            "place_id": "A",
            "state": ["open", "repaired", "open"],
            "start": pd.Timestamp("2025-03-23"),
        },
        columns=list(EVENTS.names()),
    )
    still = still_of({"A": home(757.1)})
    found = checked(still, quality_of("A"), told=told).loc["A"]
    assert found["said"].endswith("See event E-1.")
    # The flow is as old as its event, though every hour had some before: never older than seen.
    begun = checked(still, quality_of("A")).loc["A", "since"]
    assert found["since"] == max(begun, pd.Timestamp("2025-03-22"))
    late = told.assign(start=begun + pd.Timedelta(days=5))
    later = checked(still, quality_of("A"), told=late).loc["A"]
    assert later["since"] == begun + pd.Timedelta(days=4)
    assert later["volume_m3"] < checked(still, quality_of("A")).loc["A", "volume_m3"]
    early = told.assign(start=begun - pd.Timedelta(days=5))
    assert checked(still, quality_of("A"), told=early).loc["A", "since"] == begun


def test_below_q1_and_at_a_rate_meter_more_is_said() -> None:
    # Q1 25 L/h at Q3 2.5 m³/h and R 100 (seen: bmeters.com on EN 14154).
    plate = network_of({"A": ""}, q3_m3_h=2.5, ratio_r=100.0)
    low = checked(still_of({"A": home(170.3)}), quality_of("A"), network=plate).loc["A", "said"]
    assert "Below its Q1, 25 L/h, a meter may show too little" in low
    high = checked(still_of({"A": home(757.1)}), quality_of("A"), network=plate).loc["A", "said"]
    assert "Q1" not in high
    rate = quality_of("A", kind="electromagnetic")
    said = checked(still_of({"A": home(757.1)}), rate).loc["A", "said"]
    assert "does not return to zero" in said


def test_without_meters_or_readings_the_table_is_empty_and_order_does_not_matter() -> None:
    assert checked(empty(STILL_DAYS), quality_of(), network=network_of({})).empty
    still = still_of({"B": home(), "A": home(170.3)})
    mixed = still.sample(frac=1.0, random_state=1)
    both = [checked(t, quality_of("A", "B")) for t in (still, mixed)]
    pd.testing.assert_frame_equal(*both)
    assert both[0].index.to_list() == ["A", "B"]
