from __future__ import annotations

import geopandas as gpd
import networkx as nx
import numpy as np
from hypothesis import given
from hypothesis import strategies as st
from shapely.geometry import LineString, Point

from district.network.snap import joined, on_pipe, oriented, tees


def test_a_point_at_a_junction_goes_to_the_first_of_the_lines() -> None:
    lines = np.array([LineString([(0, 0), (10, 0)]), LineString([(10, 0), (10, 10)])])
    place, distance, along = on_pipe(gpd.GeoSeries([Point(10.001, 0)]), lines, reach_m=1)
    assert (place[0], along[0]) == (0, 10.0)
    assert distance[0] <= 0.001


def test_out_of_reach_is_minus_one() -> None:
    lines = np.array([LineString([(0, 0), (10, 0)])])
    place, _, _ = on_pipe(gpd.GeoSeries([Point(5, 3)]), lines, reach_m=1)
    assert place[0] == -1


def test_tees_are_ends_inside_another_line() -> None:
    lines = np.array([LineString([(0, 0), (10, 0)]), LineString([(4, 0.1), (4, 9)])])
    assert tees(lines, tolerance_m=0.5) == [(0, 4.0, 2)]


def test_a_ring_is_drawn_one_way_round_whichever_way_it_came() -> None:
    ring = LineString([(0, 0), (9, 1), (8, 7), (0, 0)])
    drawn = [
        oriented(
            gpd.GeoDataFrame(
                {"pipe_id": ["R"], "status": ["in_use"]}, geometry=[line], crs="EPSG:32630"
            )
        ).geometry.iloc[0]
        for line in (ring, ring.reverse())
    ]
    assert drawn[0].coords[:] == drawn[1].coords[:]


points = st.lists(st.tuples(st.integers(0, 12), st.integers(0, 12)), min_size=1, max_size=25)


@given(points)
def test_joining_agrees_with_networkx(spots: list[tuple[int, int]]) -> None:
    # NetworkX as the independent library: components of the graph of near pairs.
    where = np.array(spots, dtype=float)
    graph = nx.Graph()
    graph.add_nodes_from(range(len(where)))
    for i in range(len(where)):
        for j in range(i):
            if np.hypot(*(where[i] - where[j])) <= 1.5:
                graph.add_edge(i, j)
    group = joined(where, tolerance_m=1.5)
    expected = {frozenset(c) for c in nx.connected_components(graph)}
    assert {frozenset(np.flatnonzero(group == g)) for g in np.unique(group)} == expected


def test_links_join_what_nearness_does_not() -> None:
    where = np.array([[0.0, 0.0], [9.0, 0.0], [9.1, 0.0]])
    group = joined(where, tolerance_m=0.5, links=[(3, 0), (4, 4)], count=5)
    assert list(group) == [0, 1, 1, 0, 2]
