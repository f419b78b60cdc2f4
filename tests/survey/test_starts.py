"""Tests of `district.survey.starts`."""

from __future__ import annotations

from dataclasses import replace

import geopandas as gpd
import pytest
from shapely.geometry import Point

from district.errors import InputError
from district.survey.starts import depot_in_metres, starts_of
from tests.survey.conftest import Scene


def test_near_the_inlet_or_at_the_likeliest(scene: Scene) -> None:
    pieces = list(scene.pieces.values())
    weight = [p.probability_share for p in pieces]
    (start,) = starts_of(scene.network, pieces, weight, None)
    assert (start.x_m, start.y_m) == (100.0, 0.0)
    assert start.said == "on B, near inlet meter M1"
    assert start.pieces == tuple(range(5))
    assert not start.at_end
    no_inlet = replace(scene.network, boundaries=scene.network.boundaries.iloc[:0])
    (start,) = starts_of(no_inlet, pieces, [0, 0, 0, 1, 0], None)
    assert start.said == f"on {pieces[3].line.stretch_id}, the likeliest"
    assert starts_of(scene.network, [], [], None) == []


def test_one_round_from_the_depot(scene: Scene) -> None:
    pieces = list(scene.pieces.values())
    (start,) = starts_of(scene.network, pieces, [1.0] * 5, Point(10, 20))
    assert (start.x_m, start.y_m, start.piece) == (10, 20, -1)


def test_a_depot_in_degrees(scene: Scene) -> None:
    there = gpd.GeoSeries([Point(150, 40)], crs=scene.network.pipes.crs).to_crs(4326).iloc[0]
    at = depot_in_metres(scene.network, (there.x, there.y), source="x")
    assert (at.x, at.y) == pytest.approx((150, 40), abs=1e-3)
    for wrong in ((there.y, there.x), (0.0, 89.0)):
        with pytest.raises(InputError) as refused:
            depot_in_metres(scene.network, wrong, source="district.toml")
        assert "longitude first" in refused.value.findings[0].sentence()
