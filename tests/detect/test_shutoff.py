"""Advice for whole buildings, whose histories are made by hand."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from typing import Any

import numpy as np
import pandas as pd
import pytest

from district.detect import shutoff_devices, shutoff_settings
from district.network import Network
from district.results import ShutOff
from district.schema import check
from district.schema.columns import empty
from district.schema.event_tables import (
    BUILDING_CHECKS,
    EVENTS,
    SHUTOFF_CAUTION,
    SHUTOFF_CURVE,
    SHUTOFF_SETTINGS,
)
from district.settings import Settings
from tests.detect.shutoff_made import every_day, intervals
from tests.detect.test_shutoff_leaks import events
from tests.detect.test_shutoff_places import QUALITY, with_valve

Advise = Callable[..., ShutOff]
LEAKING = every_day(400, range(8, 10), 0.5)
LEAKING[31 * 24 : 41 * 24] += 0.2


@pytest.fixture
def advise(network: Network, works_of: Callable[..., pd.DataFrame]) -> Advise:
    def run(flow: Any, *, step_h: float = 1.0, **told: Any) -> ShutOff:
        found = shutoff_settings(
            told["frames"] if "frames" in told else [intervals(flow, step_h=step_h)],
            quality=told.get("quality", QUALITY),
            network=told.get("network", with_valve(network)),
            events=told.get("events", empty(EVENTS)),
            building_checks=empty(BUILDING_CHECKS),
            works=works_of(told.get("works", [])),
            settings=told.get("settings", Settings()),
        )
        for table, frame in ((SHUTOFF_SETTINGS, found.settings), (SHUTOFF_CURVE, found.curve)):
            assert list(frame) == list(table.names())
            assert check(table, frame, source=table.name)[1] == ()
        assert found.settings["cautions"].str.startswith(SHUTOFF_CAUTION).all()
        return found

    return run


def test_a_past_leak_would_have_been_stopped_after_four_hours(advise: Advise) -> None:
    found = advise(LEAKING, events=events())
    (row,) = found.settings.to_dict("records")
    assert (row["device_id"], row["building_id"], row["valve_id"]) == ("B1", "Hall", "A1")
    # Two hours of use a day, read by the hour: three hours may trip, four do not.
    assert row["trip_h"] == 4
    assert 0.1 <= row["trip_l_s"] < 0.2
    assert row["false_trips_per_year"] == 0
    # Ten days of 0.2 L/s, the whole of 10 February among them; four hours of it.
    assert (row["leaks_count"], row["leaked_m3"]) == (1, pytest.approx(172.8))
    assert row["leaked_with_m3"] == pytest.approx(2.88)
    # 48 h earlier at the most, as the limits of its start say.
    assert row["leaked_with_m3_high"] == pytest.approx(1.1 * 0.2 * 3.6 * 52)
    # 400 days less the leak, two days of doubt before it and one on either side.
    assert row["days_count"] == 400 - 14
    assert row["advice"].startswith(f"Trip when more than {row['trip_l_s']:g} L/s runs for 4 h")
    assert found.curve["advised"].sum() == 1
    chosen = found.curve[found.curve["advised"]].iloc[0]
    assert (chosen["trip_l_s"], chosen["trip_h"]) == (row["trip_l_s"], row["trip_h"])
    assert (found.basis.first, found.basis.last) == (row["first"].date(), row["last"].date())


def test_accepting_more_false_trips_saves_more(advise: Advise) -> None:
    flow = LEAKING.copy()
    flow[200 * 24 + 12 : 200 * 24 + 15] = 0.5  # One use of three hours in the year.
    strict = Settings.model_validate({"shut_off": {"false_trips_per_year": 0.2}})
    loose = Settings.model_validate({"shut_off": {"false_trips_per_year": 1.0}})
    least, more = (
        advise(flow, events=events(), settings=s).settings.iloc[0] for s in (strict, loose)
    )
    assert (least["trip_h"], more["trip_h"]) == (6, 4)
    assert more["leaked_with_m3"] < least["leaked_with_m3"]


def test_a_recorded_use_is_not_held_against_the_valve(advise: Advise) -> None:
    flow = LEAKING.copy()
    flow[200 * 24 + 4 : 201 * 24] = 1.2  # 20 July: the pool is filled.
    told = {"events": events()}
    # Twenty hours, twenty-one at the most, do not trip a valve of a day.
    assert advise(flow, **told).settings.iloc[0]["trip_h"] == 24
    pool = [("2025-07-20T00:00", "2025-07-21T00:00", "planned_use", "Hall")]
    assert advise(flow, works=pool, **told).settings.iloc[0]["trip_h"] == 4


def test_without_a_leak_on_record_bursts_are_assumed(advise: Advise) -> None:
    row = advise(every_day(400, range(8, 10), 0.2)).settings.iloc[0]
    assert (row["leaks_count"], row["trip_h"]) == (0, 2)
    assert row["trip_l_s"] >= 0.2
    assert "assumed" in row["advice"]


def test_a_leak_that_no_valve_can_tell_leaves_the_bursts(advise: Advise) -> None:
    rng = np.random.default_rng(5)
    flow = rng.uniform(0.05, 0.15, 400 * 24)
    flow[31 * 24 : 41 * 24] += 0.01
    told = events(size_l_s=0.01, size_l_s_low=0.008, size_l_s_high=0.012)
    row = advise(flow, events=told).settings.iloc[0]
    assert row["leaks_count"] == 0
    assert "Nothing would have caught 1 past leak" in row["advice"]
    assert 0.1 < row["trip_l_s"] <= 0.25


def test_a_critical_building_gets_the_reason_and_no_setting(
    advise: Advise, network: Network
) -> None:
    own = network.connections.assign(critical=[True, False], use_class="household")
    place = replace(with_valve(network), connections=own)
    found = advise(LEAKING, events=events(), network=place)
    (row,) = found.settings.to_dict("records")
    assert np.isnan(row["trip_l_s"])
    assert "C1 may not be cut off without agreement" in row["advice"]
    assert found.curve.empty
    assert row["leaked_m3"] == pytest.approx(172.8)


@pytest.mark.parametrize(
    ("told", "said"),
    [
        ({"flow": LEAKING[: 50 * 24]}, "days without a leak or a recorded work were read"),
        ({"flow": np.zeros(400 * 24)}, "nothing passed this meter"),
        ({"flow": LEAKING, "frames": []}, "no sound interval of an hour at most was read"),
        (
            {"flow": LEAKING, "frames": [], "quality": QUALITY.assign(step_h=24.0)},
            "it is read every 24 h",
        ),
        ({"flow": np.full(400 * 24, 0.2), "settings": "never"}, "None advised"),
    ],
)
def test_where_none_is_advised_the_reason_is_said(
    advise: Advise, told: dict[str, Any], said: str
) -> None:
    if told.get("settings") == "never":
        told = told | {"settings": Settings.model_validate({"shut_off": {}})}
        # A flow that never changes leaves room above it: a burst is told by its size.
        row = advise(**told).settings.iloc[0]
        assert row["trip_l_s"] >= 0.2
        return
    row = advise(**told).settings.iloc[0]
    assert row["advice"].startswith("None advised: ")
    assert said in row["advice"]
    assert np.isnan(row["trip_l_s"])


def test_quarter_hours_speak_of_shorter_times_than_hours(advise: Advise) -> None:
    flow = np.repeat(every_day(100, range(8, 9), 0.2), 4)
    by_quarter = advise(flow, step_h=0.25).settings.iloc[0]
    by_hour = advise(every_day(100, range(8, 9), 0.2)).settings.iloc[0]
    assert by_quarter["trip_h"] == 0.5
    assert by_hour["trip_h"] == 2


def test_neither_the_order_of_rows_nor_of_frames_matters(advise: Advise) -> None:
    everywhere = Settings.model_validate({"shut_off": {"advise_all": True}})
    one, two = intervals(LEAKING), intervals(0.5 * LEAKING, device="B2")
    told = {"flow": None, "settings": everywhere, "events": events()}
    plain = advise(**told, frames=[one, two])
    mixed = pd.concat([two, one]).sample(frac=1.0, random_state=3)
    again = advise(**told, frames=[mixed])
    assert list(plain.settings["device_id"]) == ["B1", "B2"]
    pd.testing.assert_frame_equal(plain.settings, again.settings)
    pd.testing.assert_frame_equal(plain.curve, again.curve)


def test_frames_of_other_meters_are_passed_over_and_a_valve_without_meter_is_named(
    advise: Advise, network: Network
) -> None:
    lost = with_valve(network, building="Barn")
    found = advise(LEAKING, network=lost)
    assert found.settings.empty
    assert found.basis.limits == ("No meter read by the hour is known behind A1.",)


def test_the_store_is_asked_for_meters_read_by_the_hour(network: Network) -> None:
    told = {
        "network": with_valve(network),
        "events": empty(EVENTS),
        "building_checks": empty(BUILDING_CHECKS),
        "settings": Settings(),
    }
    assert shutoff_devices(QUALITY, **told) == ("B1",)
    assert shutoff_devices(QUALITY.assign(step_h=24.0), **told) == ()
