"""Tests of `district.hydraulics.places`."""

from __future__ import annotations

import geopandas as gpd
from shapely.geometry import LineString, Point

from district.hydraulics.places import along


def test_where_a_thing_stands_along_its_pipe() -> None:
    pipes = gpd.GeoDataFrame(
        index=["a", "b"], geometry=[LineString([(0, 0), (10, 0)]), LineString([(10, 0), (10, 40)])]
    )
    things = gpd.GeoDataFrame(
        {"pipe_id": ["b", "", "a"]}, geometry=[Point(13, 10), Point(0, 0), Point(-5, 1)]
    )
    pipe, share = along(things, pipes)
    assert pipe.tolist() == [1, -1, 0]
    assert share.tolist() == [0.25, 0.0, 0.0]
