from __future__ import annotations

from dataclasses import replace

import pytest
from geopandas.testing import assert_geodataframe_equal

from district.render.stretches import drawn_stretches
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
