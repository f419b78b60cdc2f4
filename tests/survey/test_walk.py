"""Tests of `district.survey.walk`: the whole walk."""

from __future__ import annotations

import geopandas as gpd
import pandas as pd
import pytest
from shapely.geometry import Point

from district.errors import InputError
from district.schema.survey_tables import SURVEY_CAUTION
from district.settings import Settings, Survey
from district.survey import SurveyWalk
from tests.survey.conftest import Scene
from tests.survey.scenes import streets_about


def degrees(scene: Scene, x_m: float, y_m: float) -> tuple[float, float]:
    at = gpd.GeoSeries([Point(x_m, y_m)], crs=scene.network.pipes.crs).to_crs(4326).iloc[0]
    return at.x, at.y


def test_the_shortest_round_by_hand(scene: Scene) -> None:
    """B, R2 and the piece of G, from (100, 0): B, then R2, 20 m on to G and along it, and back the
    80 m and 200 m by F and R1 (by R3, C and B it is 20 m more)."""
    near = scene.stretches[scene.stretches["stretch_id"].isin(["B", "R2", "G"])]
    walk = type(scene)(**{**vars(scene), "stretches": near}).walk()
    assert walk.shifts["walked_m"].sum() == pytest.approx(20 + 80 + 200)


def test_from_the_depot_and_back(scene: Scene) -> None:
    walk = scene.walk(depot_deg=degrees(scene, 100.0, 150.0))
    first = walk.paths.iloc[0].geometry
    assert first.coords[0] == pytest.approx((100, 150), abs=0.01)
    assert walk.shifts["start"].tolist() == ["the depot"]
    settings = Settings(survey=Survey(depot_deg=degrees(scene, 100.0, 150.0)))
    again = scene.walk(settings=settings)
    pd.testing.assert_frame_equal(again.shifts, walk.shifts)
    with pytest.raises(InputError, match=r"district\.toml"):
        scene.walk(settings=Settings(survey=Survey(depot_deg=(100.0, 10.0))))


def test_shifts_are_kept(scene: Scene) -> None:
    walk = scene.walk(shift_h=0.6)
    assert len(walk.shifts) >= 3
    assert walk.shifts["fits"].all()
    assert (walk.shifts["work_h"] <= 0.6).all()
    assert walk.legs["length_m"].sum() == pytest.approx(410.0)
    assert walk.legs.groupby("shift")["since_start_min"].max().le(36).all()


def test_zones_by_id_or_name_and_none_other(scene: Scene, walk: SurveyWalk) -> None:
    by_name = scene.walk(zones=["Upper row"])
    pd.testing.assert_frame_equal(by_name.shifts, walk.shifts)
    nothing = scene.walk(zones=["Z/2"])
    assert nothing.legs.empty
    assert nothing.points.empty
    assert nothing.set_ups.empty
    assert nothing.said[0].startswith("There is nothing to walk")
    with pytest.raises(InputError) as refused:
        scene.walk(zones=["Uper row", "X"])
    assert [f.got for f in refused.value.findings] == [
        '"Uper row", which is no zone (the closest is Upper row)',
        '"X", which is no zone',
    ]


def test_along_streets(scene: Scene) -> None:
    walk = scene.walk(streets=streets_about())
    assert set(walk.paths["by"]) == {"streets"}
    assert not any("No line of the map" in line for line in walk.basis.limits)
    assert walk.legs["length_m"].sum() == pytest.approx(410.0)
    assert "streets" in " ".join(walk.basis.assumptions)
    # The piece of G at y = 100 is 70 to 130 m from the street across, and 110 m from the other.
    assert any("up to 110 m from every street" in line for line in walk.basis.limits)


def test_the_same_again_and_nothing_is_written_to(scene: Scene, walk: SurveyWalk) -> None:
    before = scene.stretches.copy(), scene.likelihood.copy(), scene.network.pipes.copy()
    again = scene.walk()
    pd.testing.assert_frame_equal(again.legs, walk.legs)
    pd.testing.assert_frame_equal(again.set_ups, walk.set_ups)
    after = scene.stretches, scene.likelihood, scene.network.pipes
    for one, other in zip(before, after, strict=True):
        pd.testing.assert_frame_equal(one, other)


def test_caution_goes_with_it(walk: SurveyWalk) -> None:
    assert walk.caution == SURVEY_CAUTION
    for word in ("traffic", "covers", "confined spaces", "in twos", "licensed"):
        assert word in SURVEY_CAUTION
