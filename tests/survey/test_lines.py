"""Tests of `district.survey.lines`."""

from __future__ import annotations

import numpy as np
import pytest

from district.survey.lines import chained, drawn, lines_of
from tests.survey.conftest import Scene


def test_parts_follow_each_other_and_places_are_found(scene: Scene) -> None:
    (line,) = lines_of(scene.network, scene.likelihood, ["B"])
    np.testing.assert_allclose(line.ends_m, [0.0, 10.0, 100.0])
    assert line.place(55.0) == (int(line.part[1]), 0.5)
    assert line.place(10.0) == (int(line.part[1]), 0.0)
    assert line.place(100.0) == (int(line.part[1]), 1.0)
    assert line.point(55.0).coords[0] == pytest.approx((155.0, 0.0))


def test_probability_between_two_places_follows_the_quantiles(scene: Scene) -> None:
    (line,) = lines_of(scene.network, scene.likelihood, ["B"])
    assert line.held(0, 100) == pytest.approx(0.4)
    assert line.held(0, 25) == pytest.approx(0.1)
    told = scene.likelihood.copy()
    second = told["pipe_id"] == "B/2"
    told.loc[second, ["along_m_low", "along_m", "along_m_high"]] = [40.0, 45.0, 50.0]
    (sharp,) = lines_of(scene.network, told, ["B"])
    # Of the 0.36 on the part of 90 m, 95 % lie from 40 to 50 m of it, 50 to 60 m of the stretch.
    assert sharp.held(50, 60) == pytest.approx(0.95 * 0.36)
    assert sharp.held(0, 10) == pytest.approx(0.04)


def test_a_stretch_in_two_runs_is_two_lines(scene: Scene) -> None:
    told = scene.likelihood.assign(
        stretch_id=scene.likelihood["stretch_id"].replace({"E": "G", "Q": "G"})
    )
    lines = lines_of(scene.network, told, ["G"])
    assert [len(line.part) for line in lines] == [1, 1, 1]
    assert [line.ends_m[0] for line in lines] == [0.0, 50.0, 150.0]


def test_a_piece_is_drawn_the_way_it_is_walked(scene: Scene) -> None:
    (line,) = lines_of(scene.network, scene.likelihood, ["B"])
    assert list(drawn(line, 5, 60).coords) == [(105, 0), (110, 0), (160, 0)]
    assert list(drawn(line, 60, 5).coords) == [(160, 0), (110, 0), (105, 0)]
    assert list(chained([(1.0, 2.0), (1.0, 2.0)]).coords) == [(1, 2), (1, 2)]
