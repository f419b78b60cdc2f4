"""Events of zones, buildings and sensors from nights typed by hand or drawn from a seed."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import numpy as np
import pandas as pd
import pytest
from scipy import stats

from district.detect import find_events
from district.network import Network
from district.results import Events
from district.schema.event_tables import EVENTS
from district.settings import Settings

Make = Callable[..., pd.DataFrame]
Quiet = Callable[..., np.ndarray]
Find = Callable[..., Events]
SETTINGS = Settings()
T = np.arange(365)


@pytest.fixture
def find(
    network: Network, nights_of: Make, building_nights_of: Make, works_of: Make, alarms_of: Make
) -> Find:
    def run(
        zones: dict[str, np.ndarray],
        buildings: dict[str, np.ndarray] | None = None,
        works: Any = (),
        alarms: Any = (),
    ) -> Events:
        return find_events(
            nights_of(zones) if zones else nights_of({"V1": []}),
            building_nights_of(buildings or {}),
            network=network,
            alarms=alarms_of(list(alarms)),
            works=works_of(list(works)),
            settings=SETTINGS,
        )

    return run


def test_a_step_is_an_open_leak_with_size_volume_and_cost(find: Find, quiet: Quiet) -> None:
    (row,) = find({"V1": quiet(365, 1) + 0.4 * (T >= 200)}).events.to_dict("records")
    assert row["event_id"] == "E-V1-2025-07-20"
    assert (row["kind"], row["state"], row["act"]) == ("leak", "open", True)
    assert row["start_low"] <= pd.Timestamp("2025-07-20") <= row["start_high"]
    assert row["size_l_s_low"] <= 0.4 <= row["size_l_s_high"]
    # 165 nights of 0.4 L/s at 86.4 m3 a day for each L/s.
    assert row["volume_m3"] == pytest.approx(165 * 0.4 * 86.4, rel=0.05)
    assert row["volume_m3_low"] <= 165 * 0.4 * 86.4 <= row["volume_m3_high"]
    assert row["cost_currency"] == pytest.approx(row["volume_m3"] * 0.8)


def test_limits_of_size_and_volume_hold_the_truth(find: Find, quiet: Quiet) -> None:
    held = 0
    for seed in range(60):
        rows = find({"V1": quiet(365, seed) + 0.2 * (T >= 200)}).events
        row = rows[rows["size_l_s"] > 0.1].iloc[0]
        size = row["size_l_s_low"] <= 0.2 <= row["size_l_s_high"]
        volume = row["volume_m3_low"] <= 165 * 0.2 * 86.4 <= row["volume_m3_high"]
        held += size and volume
    assert held >= stats.binom.ppf(0.01, 60, 0.95)


def test_a_growing_leak(find: Find, quiet: Quiet) -> None:
    (row,) = find({"V1": quiet(365, 2) + 0.005 * np.clip(T - 200, 0, None)}).events.to_dict(
        "records"
    )
    assert row["kind"] == "growing_leak"
    assert row["growth_l_s_d"] == pytest.approx(0.005, rel=0.1)
    assert row["size_l_s"] == pytest.approx(0.82, rel=0.05)
    assert row["volume_m3"] == pytest.approx(0.005 * 86.4 * (164 * 165 / 2), rel=0.05)


def test_an_ended_leak_is_not_to_act_on(find: Find, quiet: Quiet) -> None:
    leak = quiet(365, 3) + 0.4 * ((T >= 100) & (T < 200))
    works = [("2025-07-20T08:00", "2025-07-20T12:00", "repair", "P1")]
    (row,) = find({"V1": leak}, works=works).events.to_dict("records")
    assert (row["state"], row["act"]) == ("repaired", False)
    assert row["work"] == "a repair at P1 on 2025-07-20"
    assert row["end"] == pd.Timestamp("2025-07-19")
    assert "a repair at P1 on 2025-07-20" in row["reason"]
    assert row["volume_m3"] == pytest.approx(100 * 0.4 * 86.4, rel=0.05)


def test_two_leaks_are_two_rows_newest_first(find: Find, quiet: Quiet) -> None:
    rows = find({"V1": quiet(365, 4) + 0.3 * (T >= 100) + 0.5 * (T >= 200)}).events
    assert list(rows["size_l_s"].round(1)) == [0.5, 0.3]
    assert rows["start"].is_monotonic_decreasing


def test_a_pool_filled_over_two_nights_is_short_use(find: Find, quiet: Quiet) -> None:
    (row,) = find({"V1": quiet(365, 5) + 2.0 * ((T >= 150) & (T < 152))}).events.to_dict("records")
    assert (row["kind"], row["act"]) == ("use", False)
    assert row["end"] - row["start"] == pd.Timedelta(days=1)


def test_the_same_pool_on_record_is_a_recorded_work(find: Find, quiet: Quiet) -> None:
    works = [("2025-05-30T20:00", "2025-06-01T06:00", "planned_use", "V1")]
    rows = find({"V1": quiet(365, 5) + 2.0 * ((T >= 150) & (T < 152))}, works=works).events
    assert list(rows["kind"]) == ["use"]


def test_a_flow_that_stays_after_flushing_is_a_leak(find: Find, quiet: Quiet) -> None:
    works = [("2025-07-20T08:00", "2025-07-20T12:00", "flushing", "V1")]
    (row,) = find({"V1": quiet(365, 6) + 0.4 * (T >= 200)}, works=works).events.to_dict("records")
    assert row["kind"] == "leak"
    assert "check that it is not the cause" in row["reason"]


def test_opposite_changes_name_the_meter_between(find: Find, quiet: Quiet) -> None:
    zones = {"V1": quiet(365, 7) - 0.3 * (T >= 200), "V2": quiet(365, 8) + 0.3 * (T >= 200)}
    (row,) = find(zones).events.to_dict("records")
    assert (row["place_id"], row["kind"], row["act"]) == ("V2", "meter_fault", True)
    assert "Check meter M2 between them" in row["reason"]
    assert row["other_cell_id"] == "V1"
    # Water that only moved on paper is not lost.
    assert np.isnan([row["volume_m3"], row["volume_m3_high"], row["cost_currency"]]).all()


def test_an_open_boundary_does_not_take_from_a_leak(find: Find, quiet: Quiet) -> None:
    zones = {
        "V2": quiet(365, 9) + 0.4 * (T >= 200),
        "V3": quiet(365, 10) + 0.9 * (T >= 150) - 0.4 * (T >= 200),
    }
    rows = find(zones).events.set_index("place_id")
    assert rows.loc["V2", "kind"] == "boundary"
    assert "valve X1" in rows.loc["V2", "reason"]
    assert rows.loc["V3", "kind"] == "leak"
    assert rows.loc["V3", "size_l_s"] == pytest.approx(0.9, abs=0.05)


def test_a_mended_meter_ends_the_event_and_begins_none(find: Find, quiet: Quiet) -> None:
    wrong = 0.3 * ((T >= 150) & (T < 250))
    (row,) = find({"V1": quiet(365, 11) - wrong, "V2": quiet(365, 12) + wrong}).events.to_dict(
        "records"
    )
    assert (row["place_id"], row["kind"], row["state"]) == ("V2", "meter_fault", "ended")


def test_the_same_change_in_zones_apart_is_two_leaks_less_one(find: Find, quiet: Quiet) -> None:
    zones = {"V1": quiet(365, 13) - 0.3 * (T >= 200), "V4": quiet(365, 14) + 0.3 * (T >= 200)}
    assert list(find(zones).events["kind"]) == ["leak"]


def test_building_and_wet_floor_speak_for_each_other(find: Find, quiet: Quiet) -> None:
    flow = quiet(365, 15, level=0.02, sigma=0.005) + 0.15 * (T >= 200)
    alarm = [("W1", "2025-07-24T10:00", "2025-07-25T10:00")]
    rows = find({"V2": quiet(365, 16)}, {"B1": flow, "B2": flow}, alarms=alarm).events
    assert list(rows["place_id"]) == ["W1", "B1"]
    assert list(rows["kind"]) == ["wet_floor", "building_flow"]
    assert list(rows["cell_id"]) == ["V2", "V2"]
    assert "meter B1 rose on 2025-07-20" in rows.loc[0, "reason"]
    assert "wet-floor sensor W1 of building Hall" in rows.loc[1, "reason"]
    assert np.isnan(rows.loc[0, "volume_m3"])


def test_slow_growth_taken_for_a_step_is_told_with_its_first_night(
    find: Find, quiet: Quiet
) -> None:
    began = pd.Timestamp("2025-01-01") + pd.Timedelta(days=220)
    told = as_taken = 0
    for seed in range(12):
        x = quiet(365, 700 + seed) + 0.16 * np.clip((T - 219) / 80, 0, 1)
        row = find({"V1": x}).events.iloc[-1]
        assert row["since_first"] <= row["start"] <= row["since_last"]
        assert row["run_d_high"] - row["run_d"] == (row["start"] - row["since_first"]).days
        told += row["since_first"] <= began <= row["since_last"]
        as_taken += row["start_low"] <= began <= row["start_high"]
    assert told >= 10
    assert told >= as_taken


def test_missing_nights_do_not_hide_a_leak(find: Find, quiet: Quiet) -> None:
    x = quiet(365, 19) + 0.4 * (T >= 200)
    x[np.random.default_rng(1).random(365) < 0.3] = np.nan
    x[195:205] = np.nan
    (row,) = find({"V1": x}).events.to_dict("records")
    assert row["start_low"] <= pd.Timestamp("2025-07-20") <= row["start_high"]
    assert row["volume_m3"] == pytest.approx(165 * 0.4 * 86.4, rel=0.1)


def test_twenty_quiet_zone_years_stay_within_the_stated_rate(find: Find, quiet: Quiet) -> None:
    # Rises are half of the stated false alarms; 97.5 % limit of their count.
    rows = sum(len(find({"V1": quiet(366, 2000 + seed)}).events) for seed in range(20))
    assert rows <= stats.poisson.ppf(0.975, 0.25 * 20)


def test_changes_too_small_to_matter_are_dropped(find: Find, quiet: Quiet) -> None:
    assert find({"V1": quiet(365, 18, sigma=0.002) + 0.02 * (T >= 200)}).events.empty


def test_table_is_as_declared_with_and_without_rows(find: Find, quiet: Quiet) -> None:
    some = find({"V1": quiet(365, 1) + 0.4 * (T >= 200)}).events
    none = find({}).events
    assert tuple(some.columns) == tuple(none.columns) == EVENTS.names()
    assert none.empty
    for name in (
        "start",
        "start_low",
        "start_high",
        "since_first",
        "since_last",
        "detected",
        "end",
    ):
        assert str(some[name].dtype).startswith("datetime64")
    assert some["act"].dtype == bool


def test_order_of_rows_changes_nothing_and_inputs_are_not_written_to(
    network: Network,
    nights_of: Make,
    building_nights_of: Make,
    works_of: Make,
    alarms_of: Make,
    quiet: Quiet,
) -> None:
    nights = nights_of({"V1": quiet(365, 1) + 0.4 * (T >= 200), "V2": quiet(365, 2)})
    buildings = building_nights_of({"B1": quiet(365, 3) + 0.2 * (T >= 250)})
    alarms = alarms_of([("W1", "2025-09-10T10:00", "2025-09-11T10:00")])
    works = works_of([("2025-07-20", "2025-07-20", "flushing", "V1")])
    more = {"network": network, "alarms": alarms, "works": works, "settings": SETTINGS}
    before = [f.copy() for f in (nights, buildings, alarms, works)]
    first = find_events(nights, buildings, **more)
    for frame, copy in zip((nights, buildings, alarms, works), before, strict=True):
        pd.testing.assert_frame_equal(frame, copy)
    mixed = nights.sample(frac=1, random_state=1), buildings.sample(frac=1, random_state=2)
    pd.testing.assert_frame_equal(first.events, find_events(*mixed, **more).events)


def test_basis_states_the_rate_and_what_could_not_be_tested(find: Find, quiet: Quiet) -> None:
    basis = find({"V1": quiet(60, 1), "V2": quiet(10, 2)}).basis
    assert "0.5 false alarms a year" in basis.assumptions[0]
    assert basis.limits[0].startswith("zone V2: 10 usable nights")
    assert str(basis.first) == "2025-01-01"
