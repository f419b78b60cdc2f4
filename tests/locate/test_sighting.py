"""Tests of `district.locate.sighting`."""

from __future__ import annotations

import geopandas as gpd
import pytest
from shapely.geometry import Point

from district.locate.sighting import sighting_evidence
from district.locate.spots import Evidence
from district.schema.field_records import SIGHTINGS
from tests.locate.field_scene import CRS, at, best_x_m, rows, scene_of

SCENE = scene_of()


def seen(**row: object) -> list[Evidence]:
    return sighting_evidence(SCENE, rows(SIGHTINGS, {"time": "2025-11-06T22:30Z", **row}))


def test_pipes_near_a_report_gain_and_far_ones_keep_a_floor() -> None:
    (told,) = seen(place_id="c2", what="running_water")
    likely = told.log_likelihood
    assert best_x_m(SCENE, likely) == pytest.approx(300, abs=5)
    assert at(SCENE, likely, 300) > at(SCENE, likely, 330) > at(SCENE, likely, 420)
    assert at(SCENE, likely, 590) == pytest.approx(at(SCENE, likely, 55), abs=0.01)
    assert at(SCENE, likely, 590) > -6
    assert told.said == (
        "Running water reported at c2 on 2025-11-06 22:30: this speaks for pipes within about "
        "50 m, as water shows away from its leak."
    )


def test_a_place_on_the_globe() -> None:
    (place,) = gpd.GeoSeries([Point(300, -8)], crs=CRS).to_crs(4326)
    by_degrees = seen(longitude_deg=place.x, latitude_deg=place.y, what="running_water")
    by_name = seen(place_id="c2", what="running_water")
    assert by_degrees[0].log_likelihood == pytest.approx(by_name[0].log_likelihood, abs=1e-6)


def test_pipes_buildings_valves_and_sensors_are_places() -> None:
    assert at(SCENE, seen(place_id="P3")[0].log_likelihood, 420) == pytest.approx(0.0, abs=0.01)
    for name, x_m in (("B7", 250), ("V2", 410), ("X2", 580), ("M1", 55)):
        assert best_x_m(SCENE, seen(place_id=name)[0].log_likelihood) == pytest.approx(x_m, abs=6)


def test_low_pressure_is_vague_and_says_nothing_of_water() -> None:
    (told,) = seen(place_id="c2", what="low_pressure")
    assert at(SCENE, told.log_likelihood, 400) > -1
    assert "as water" not in told.said


def test_what_does_not_count() -> None:
    (early,) = seen(place_id="c2", time="2025-10-01T10:00Z")
    assert not early.used
    assert seen(place_id="nowhere") == []
    assert seen() == []
    assert seen(longitude_deg=20.0, latitude_deg=50.0) == []


def test_reports_of_the_same_water_count_once() -> None:
    """Five people who see one puddle know no more of the leak than one does."""
    report = {"place_id": "c2", "what": "running_water"}
    times = [{"time": f"2025-11-06T{hour}:30Z", **report} for hour in (10, 12, 15, 20, 22)]
    (one,) = sighting_evidence(SCENE, rows(SIGHTINGS, times[0]))
    (five,) = sighting_evidence(SCENE, rows(SIGHTINGS, *times))
    assert five.log_likelihood == pytest.approx(one.log_likelihood)
    assert five.said == (
        "Running water reported at c2 on 2025-11-06 10:30, 4 more reports beside it until "
        "2025-11-06 22:30, counted as one: this speaks for pipes within about 50 m, as water shows "
        "away from its leak."
    )
    noise = {"time": "2025-11-06T11:00Z", "place_id": "c2", "what": "noise"}
    far = {"time": "2025-11-06T11:00Z", "place_id": "c4", "what": "running_water"}
    assert len(sighting_evidence(SCENE, rows(SIGHTINGS, *times, noise, far))) == 3
