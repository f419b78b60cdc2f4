"""Tests of `district.network.ways`."""

from __future__ import annotations

import networkx as nx
import numpy as np
import pandas as pd
import pytest
from shapely.geometry import Point

from district.network.ways import (
    Places,
    costs,
    device_points,
    metres_along,
    pieces_between,
    pipes_in_order,
    places_at,
    ways,
)
from tests.locate.field_scene import scene_of, street

SCENE = scene_of()


def test_distances_along_the_street_and_into_the_branch() -> None:
    places = places_at(SCENE.network, [Point(300, 3)])
    metres = costs(ways(SCENE.network), places, SCENE.spots.pipe, SCENE.spots.share)[0]
    by_hand = np.abs(SCENE.spots.x_m - 300) + SCENE.spots.y_m
    np.testing.assert_allclose(metres, by_hand)


def test_costs_agree_with_another_library_on_a_random_network() -> None:
    # networkx, single_source_dijkstra: a general library, independent of scipy's.
    random = np.random.default_rng(5)
    count, nodes = 60, 25
    start, end = random.integers(0, nodes, count), random.integers(0, nodes, count)
    length = random.uniform(1, 50, count)
    network = street()
    names = [f"Q{i:02d}" for i in range(count)]
    pipes = network.pipes.iloc[np.zeros(count, dtype=int)].assign(
        start_position=start, end_position=end, length_m=length
    )
    pipes.index = pd.Index(names)
    bare = network.nodes.iloc[np.zeros(nodes, dtype=int)]
    own = ways(type(network)(**{**vars(network), "pipes": pipes, "nodes": bare}))
    graph = nx.MultiGraph()
    graph.add_nodes_from(range(nodes))
    graph.add_weighted_edges_from(zip(start.tolist(), end.tolist(), length, strict=True))
    found = costs(own, Places(np.array([7]), np.array([0.0])), np.arange(count), np.zeros(count))
    reached = nx.single_source_dijkstra_path_length(graph, int(start[7]))
    expected = [reached.get(int(s), np.inf) for s in start]
    np.testing.assert_allclose(found[0], expected)
    for target in (3, 11, 40):
        one, other = (
            Places(np.array([7]), np.array([0.3])),
            Places(np.array([target]), np.array([0.6])),
        )
        pipe, share = pieces_between(own, one, other)
        total = costs(own, one, other.pipe, other.share)[0, 0]
        assert (own.cost[pipe] * share).sum() == pytest.approx(total if len(pipe) else 0.0)


def test_the_pieces_between_two_sensors() -> None:
    points = device_points(SCENE.network)
    places = places_at(SCENE.network, [points["V1"], points["X2"]])
    metres = ways(SCENE.network)
    pipe, share = pieces_between(metres, places.one(0), places.one(1))
    assert (metres.cost[pipe] * share).sum() == pytest.approx(370.0)
    names = pipes_in_order(SCENE.network).index[pipe[metres.cost[pipe] * share > 0]]
    assert list(names) == ["P2/2", "P3/1", "P3/2"]
    same = places_at(SCENE.network, [Point(250, 0), Point(300, 0)])
    pipe, share = pieces_between(metres, same.one(0), same.one(1))
    assert (metres.cost[pipe] * share).sum() == pytest.approx(50.0)


def test_parts_begin_where_the_one_before_ends() -> None:
    order = pipes_in_order(SCENE.network)
    begins = dict(zip(order.index, metres_along(SCENE.network), strict=True))
    assert begins == {
        "P1/1": 0.0, "P1/2": 50.0, "P2/1": 0.0, "P2/2": 10.0, "P3/1": 0.0, "P3/2": 10.0, "P4": 0.0,
    }  # fmt: skip
