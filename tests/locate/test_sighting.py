"""Tests of `district.locate.sighting`."""

from __future__ import annotations

from dataclasses import replace
from datetime import date

import geopandas as gpd
import numpy as np
import pandas as pd
import pytest
from shapely.geometry import Point

from district.locate.sighting import sighting_evidence
from district.locate.spots import Evidence, Sought
from district.schema.field_records import SIGHTINGS
from tests.locate.field_scene import CRS, LEAK, at, best_x_m, rows, scene_of

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


def test_a_report_near_a_border_is_shared_with_the_leak_beyond_it() -> None:
    """Zone B from x = 420 on: water at 480 is hardly of a leak in A, 65 m off and more."""
    cell_id = np.where(SCENE.spots.x_m > 420, "B", SCENE.spots.cell_id)
    spots = replace(SCENE.spots, cell_id=cell_id)
    in_b = replace(LEAK, sought_id="B-1", cell_id="B")
    report = rows(SIGHTINGS, {"time": "2025-11-06T10:00Z", "place_id": "c3", "what": "noise"})
    wet = report.assign(what="running_water")

    def told(mine: Sought, *others: Sought, seen: pd.DataFrame = wet) -> list[Evidence]:
        own = spots.cell_id == mine.cell_id
        scene = replace(SCENE, spots=spots, own=own, sought=mine, others=others)
        return sighting_evidence(scene, seen)

    def moved(evidence: list[Evidence], cell: str) -> float:
        return float(np.ptp(evidence[0].log_likelihood[spots.cell_id == cell]))

    alone, shared = moved(told(LEAK), "A"), moved(told(LEAK, in_b), "A")
    assert shared < 0.5 * alone
    assert moved(told(in_b, LEAK), "B") > 0.7 * moved(told(in_b), "B")
    assert told(LEAK, in_b)[0].said.endswith("It may be of a leak in B as well.")
    # One that began after the report takes nothing, a small one little.
    late = replace(in_b, start_low=date(2025, 11, 20), start=date(2025, 11, 22), start_high=None)
    assert moved(told(LEAK, late), "A") == pytest.approx(alone)
    assert "as well" not in told(LEAK, late)[0].said
    small = replace(in_b, flow_l_s=0.02)
    assert shared < moved(told(LEAK, small), "A") < alone
    # Noise carries 60 m at most: no spot of A is so near.
    assert told(LEAK, in_b, seen=report) == []


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
