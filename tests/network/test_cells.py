from __future__ import annotations

import geopandas as gpd
from shapely.geometry import Point, box

from district.network import build_network
from district.network.cells import connected_parts, zone_of_points
from district.results import Inputs
from district.settings import Settings


def test_the_smallest_polygon_labels_a_point() -> None:
    zones = gpd.GeoDataFrame(
        {"zone_id": ["inner", "outer"]}, geometry=[box(4, 4, 6, 6), box(0, 0, 10, 10)]
    )
    points = gpd.GeoSeries([Point(5, 5), Point(1, 1), Point(20, 20)])
    assert list(zone_of_points(points, zones)) == ["inner", "outer", ""]


def test_parts_ignore_meters_and_valves(inputs: Inputs) -> None:
    network = build_network(inputs, settings=Settings())
    assert set(connected_parts(network.pipes, network.nodes)) == {0}
