"""Tests of `district.locate.wet_floor`."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pandas as pd
import pytest

from district.locate.scene import Scene
from district.locate.spots import Evidence
from district.locate.wet_floor import wet_floor_evidence
from tests.locate.field_scene import at, best_x_m, scene_of

SCENE = scene_of()


def wet(*spells: tuple[str, str], device_id: str = "W1", scene: Scene = SCENE) -> list[Evidence]:
    start, end = zip(*spells, strict=True)
    alarms = pd.DataFrame(
        {
            "device_id": device_id,
            "start_utc": pd.to_datetime(start, utc=True),
            "end_utc": pd.to_datetime(end, utc=True),
            "readings_count": 3,
            "onsets_count": 1,
            "alarm_h": 1.0,
        }
    )
    return wet_floor_evidence(scene, alarms)


def as_kind(kind: str, building: str | None) -> Scene:
    sensors = SCENE.network.sensors.copy()
    sensors.loc["W1", ["kind", "building_id"]] = [kind, building]
    return replace(SCENE, network=replace(SCENE.network, sensors=sensors))


def test_a_cable_speaks_like_a_floor_and_a_float_weakly() -> None:
    days = ("2025-11-01", "2025-11-05")
    (floor,) = wet(days, scene=as_kind("wet_floor", None))
    (cable,) = wet(days, scene=as_kind("leak_cable", None))
    (lift,) = wet(days, scene=as_kind("chamber_float", None))
    np.testing.assert_allclose(cable.log_likelihood, floor.log_likelihood)
    assert np.ptp(lift.log_likelihood[SCENE.own]) < np.ptp(cable.log_likelihood[SCENE.own])
    assert cable.said == (
        "Leak cable W1, wet from 2025-11-01 to 2025-11-05: this speaks for the mains within "
        "about 50 m."
    )
    assert lift.said.endswith("50 m, weakly, as rain and ground water lift a float too.")


def test_it_speaks_for_the_building_and_what_is_near() -> None:
    (told,) = wet(("2025-11-01", "2025-11-05"))
    assert best_x_m(SCENE, told.log_likelihood) == pytest.approx(250, abs=5)
    assert at(SCENE, told.log_likelihood, 280) < at(SCENE, told.log_likelihood, 250)
    assert at(SCENE, told.log_likelihood, 500) == pytest.approx(np.log(0.15), abs=0.01)
    assert told.said == (
        "Floor sensor W1, wet from 2025-11-01 to 2025-11-05: this speaks for the building's "
        "connection and the mains within about 50 m."
    )


def test_once_and_briefly_is_weak_and_again_is_strong() -> None:
    (once,) = wet(("2025-11-01 03:00", "2025-11-01 05:00"))
    (again,) = wet(("2025-11-01", "2025-11-01"), ("2025-11-04", "2025-11-04"))
    assert np.ptp(once.log_likelihood[SCENE.own]) < np.ptp(again.log_likelihood[SCENE.own])
    assert "weakly, as it was wet but once" in once.said
    assert "wet 2 times from 2025-11-01 to 2025-11-04" in again.said


def test_one_wet_before_the_leak_does_not_count() -> None:
    (told,) = wet(("2025-10-02", "2025-10-03"))
    assert not told.used
    assert "before the leak began" in told.said


def test_what_came_later_counts_weakly_where_it_was_wet_before() -> None:
    (told,) = wet(("2025-10-02", "2025-10-03"), ("2025-11-01", "2025-11-05"))
    (once,) = wet(("2025-11-01 03:00", "2025-11-01 05:00"))
    assert told.used
    np.testing.assert_allclose(told.log_likelihood, once.log_likelihood)
    assert told.said == (
        "Floor sensor W1, wet from 2025-11-01 to 2025-11-05: this speaks for the building's "
        "connection and the mains within about 50 m, weakly, as it was wet before the leak too."
    )


def test_a_sensor_that_is_not_on_the_map() -> None:
    assert wet(("2025-11-01", "2025-11-05"), device_id="W9") == []
