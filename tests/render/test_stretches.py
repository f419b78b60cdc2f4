from __future__ import annotations

from dataclasses import replace

import pytest
from geopandas.testing import assert_geodataframe_equal
from shapely.geometry import LineString, MultiLineString

from district.render.stretches import (
    drawn_stretches,
    likeliest_told,
    piece,
    place_along,
    walked_pieces,
)
from district.schema import outputs


def test_parts_of_a_pipe_are_one_line_with_the_figures_of_the_stretch(report):
    drawn = drawn_stretches(report).set_index("stretch_id")
    assert len(drawn) == 11
    assert set(outputs.STRETCHES.names()) <= {"stretch_id", *drawn.columns}
    whole = drawn.loc["P21"]
    assert whole.geometry.geom_type == "LineString"
    assert whole.geometry.length == pytest.approx(whole["length_m"])
    assert whole["probability_share"] == pytest.approx(0.3)
    assert whole["material"] == "cast_iron"


def test_a_pipe_that_is_not_searched_stands_with_empty_figures(report):
    drawn = drawn_stretches(report).set_index("stretch_id")
    assert drawn["probability_share"].isna().sum() == 4
    assert drawn.loc["P31", "length_m"] > 0


def test_without_likelihood_every_pipe_stands_for_itself(report):
    found = report.location
    bare = replace(found, likelihood=found.likelihood.iloc[:0], stretches=found.stretches.iloc[:0])
    drawn = drawn_stretches(replace(report, location=bare))
    assert list(drawn["stretch_id"]) == list(report.layers.pipes["pipe_id"])
    assert drawn["rank"].isna().all()


def test_pipes_are_not_written_to(report):
    before = report.layers.pipes.copy()
    drawn_stretches(report)
    assert_geodataframe_equal(report.layers.pipes, before)


def test_a_line_runs_as_its_parts_are_counted(report):
    # The second part is given first, and the tenth comes after the ninth.
    pipes = report.layers.pipes
    turned = replace(report, layers=replace(report.layers, pipes=pipes.iloc[::-1]))
    line = drawn_stretches(turned).set_index("stretch_id").geometry["P21"]
    parts = pipes.set_index("pipe_id").geometry
    assert line.coords[0] == parts["P21/1"].coords[0]
    assert line.coords[-1] == parts["P21/2"].coords[-1]


def test_the_piece_to_walk_and_the_likeliest_place_are_cut_from_the_line(report):
    drawn = drawn_stretches(report).set_index("stretch_id", drop=False)
    pieces = walked_pieces(drawn)
    top = drawn["rank"] == 1
    assert pieces.geometry[top].length.iloc[0] == pytest.approx(50.0)
    start = drawn.geometry[top].iloc[0].interpolate(12.0)
    assert start.distance(pieces.geometry[top].iloc[0]) < 1e-6
    assert pieces.geometry["P21"].equals(drawn.geometry["P21"])
    told = place_along(drawn)
    assert list(told["rank"]) == [1]
    assert drawn.geometry[top].iloc[0].project(told.geometry.iloc[0]) == pytest.approx(34.0)


@pytest.mark.parametrize(
    ("low", "high", "said"), [(0.0, 1.0, True), (10.0, 110.0, False), (None, 9.0, False)]
)
def test_a_place_is_told_where_it_is_narrower_than_the_stretch(low, high, said):
    row = {"along_m": 1.0, "along_m_low": low, "along_m_high": high, "length_m": 120.0}
    assert likeliest_told(row) is said


def test_a_line_in_parts_is_cut_part_after_part():
    apart = MultiLineString([[(0, 0), (10, 0)], [(50, 0), (80, 0)]])
    cut = piece(apart, 0.125, 0.5)  # from 5 m to 20 m of 40 m
    assert [list(part.coords) for part in cut.geoms] == [[(5, 0), (10, 0)], [(50, 0), (60, 0)]]
    assert piece(apart, 0.5, 1.0).equals(LineString([(60, 0), (80, 0)]))
    assert piece(apart, 0.0, 1.0) is apart
