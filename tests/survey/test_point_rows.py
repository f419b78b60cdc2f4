"""Tests of `district.survey.point_rows`."""

from __future__ import annotations

from district.schema.survey_tables import LISTENING_POINTS
from district.settings import Survey
from district.survey import SurveyWalk
from district.survey.pieces import Piece
from district.survey.point_rows import points_of
from tests.survey.conftest import Scene


def test_points_come_as_the_legs_are_walked(walk: SurveyWalk) -> None:
    points = walk.points
    assert tuple(points.columns) == LISTENING_POINTS.names()
    assert points["rank"].tolist() == list(range(1, len(points) + 1))
    assert points["leg"].is_monotonic_increasing
    for leg in walk.legs.itertuples():
        along = points[points["leg"] == leg.leg]["along_m"]
        back = leg.to_m < leg.from_m
        assert along.is_monotonic_decreasing if back else along.is_monotonic_increasing
    hydrant = points.set_index("fitting_id").loc["HY1"]
    assert hydrant["kind"] == "hydrant"
    assert hydrant.geometry.coords[0] == (250, 102)
    on_ground = points[points["kind"] == "ground"]
    assert on_ground["fitting_id"].eq("").all()
    legs = walk.legs.set_index("leg").geometry
    assert all(legs[r.leg].distance(r.geometry) < 1e-6 for r in on_ground.itertuples())


def test_each_point_is_on_one_piece_of_those_it_was_cut_into(scene: Scene) -> None:
    points = points_of(list(scene.pieces.values()), scene.fittings, Survey())
    for whole in scene.pieces.values():
        middle = (whole.from_m + whole.to_m) / 2
        halves = [
            Piece(whole.line, whole.from_m, middle), Piece(whole.line, middle, whole.to_m)
        ]  # fmt: skip
        assert [*points.on(halves[0]), *points.on(halves[1])] == points.on(whole)
