"""Tests of `district.survey.ground`."""

from __future__ import annotations

import networkx as nx
import numpy as np
import pytest
import shapely

from district.survey.ground import (
    about,
    apart,
    ground_of_pipes,
    ground_of_streets,
    way_between,
    with_links,
    with_places,
    with_points,
)
from tests.survey.conftest import Scene
from tests.survey.scenes import streets_about


def test_distances_agree_with_another_library(scene: Scene) -> None:
    """networkx, shortest_path_length: a general library, independent of SciPy's."""
    ground = ground_of_pipes(scene.network)
    link = np.array([2, 5, 8, 12], dtype=np.int64)
    wider, nodes = with_places(ground, link, np.array([0.25, 0.5, 1.0, 0.0]))
    found, straight = apart(wider, nodes)
    graph = nx.MultiGraph()
    graph.add_weighted_edges_from(
        (int(a), int(b), line.length)
        for a, b, line in zip(wider.start, wider.end, wider.line, strict=True)
    )
    reached = dict(nx.all_pairs_dijkstra_path_length(graph))
    expected = [[reached[int(a)][int(b)] for b in nodes] for a in nodes]
    np.testing.assert_allclose(found, expected)
    assert not straight.any()


def test_places_cut_a_line_in_order_and_keep_its_length(scene: Scene) -> None:
    ground = ground_of_pipes(scene.network)
    wider, nodes = with_places(ground, np.array([9, 9, 9]), np.array([0.7, 0.2, 1.0]))
    assert shapely.length(wider.line).sum() == pytest.approx(shapely.length(ground.line).sum())
    assert len(wider.line) == len(ground.line) + 2
    assert wider.x_m[nodes].tolist() == pytest.approx([670, 620, 700])


def test_where_no_line_leads_it_is_straight(scene: Scene) -> None:
    ground, nodes = with_points(
        ground_of_pipes(scene.network), np.array([0.0, 700.0]), np.array([0.0, 0.0])
    )
    metres, straight = apart(ground, nodes)
    assert metres[0, 1] == pytest.approx(700)
    assert straight[0, 1]
    ways = ground.ways()
    line = way_between(ground, ways, int(nodes[0]), int(nodes[1]), at_most_m=700.0)
    assert list(line.coords) == [(0, 0), (700, 0)]


def test_a_point_off_the_line_is_joined_straight_to_it(scene: Scene) -> None:
    ground, nodes = with_points(
        ground_of_pipes(scene.network), np.array([150.0, 250.0]), np.array([30.0, 20.0])
    )
    metres, _ = apart(ground, nodes)
    assert metres[0, 1] == pytest.approx(30 + 100 + 20)
    line = way_between(ground, ground.ways(), int(nodes[0]), int(nodes[1]), at_most_m=150.0)
    assert line.length == pytest.approx(150)
    assert line.coords[0] == (150, 30)
    assert line.coords[-1] == (250, 20)


def test_only_what_lies_about_some_nodes(scene: Scene) -> None:
    ground = ground_of_pipes(scene.network)
    far = with_links(
        ground, np.array([0]), np.array([1]), [shapely.linestrings([(5e4, 0), (6e4, 0)])]
    )
    near = about(far, np.array([0, 1, 2]))
    assert len(near.line) == len(ground.line)
    assert len(near.x_m) == len(ground.x_m)


def test_streets_join_where_they_cross() -> None:
    ground = ground_of_streets(streets_about(), tolerance_m=0.5)
    assert ground.by == "streets"
    assert len(ground.line) == 4
    wider, nodes = with_points(ground, np.array([0.0, 150.0]), np.array([-10.0, 160.0]))
    metres, straight = apart(wider, nodes)
    assert metres[0, 1] == pytest.approx(150 + 170, abs=1)
    assert not straight.any()
    linked = with_links(wider, nodes[:1], nodes[1:], [shapely.linestrings([(0, 0), (10, 0)])])
    assert apart(linked, nodes)[0][0, 1] == pytest.approx(10)
