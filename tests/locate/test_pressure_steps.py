"""States with a leak at a few places against solving the network with the leak at each node."""

from __future__ import annotations

import networkx as nx
import numpy as np
import pytest

from district.hydraulics import head_sensitivity, pattern_of, solve
from district.hydraulics.head_loss import head_lost, losses_of
from district.locate.pressure_steps import effect_m, places
from tests.hydraulics.known_zone import known_zone


@pytest.mark.parametrize("flow_l_s", [0.3, 3.0, 10.0])
def test_a_leak_at_any_node_is_felt_as_in_the_solved_network(flow_l_s: float) -> None:
    drawn = known_zone(2).drawn
    model, pattern = drawn.model, pattern_of(drawn.model)
    points = np.flatnonzero(np.isnan(model.fixed_head_m))
    use = np.where(np.isnan(model.fixed_head_m), 1.0, 0.0)
    use = np.outer([0.5, 3.0], use / use.sum())
    states = [solve(model, row * (1 + flow_l_s / 2 / row.sum())) for row in use]
    slopes = np.array([head_sensitivity(model, s, drawn.watch) for s in states])
    flow = np.outer([1.0, 0.9], np.full(len(points), flow_l_s))
    found = effect_m(drawn, states, slopes, use, points, flow_l_s=flow, pattern=pattern)
    for b, row in enumerate(use):
        before = drawn.watch @ solve(model, row).head_m
        leaks = flow[b, :, None] * np.eye(len(row))[points]
        exact = np.array([drawn.watch @ solve(model, row + leak).head_m - before for leak in leaks])
        missed = found[b].T - exact
        assert np.abs(missed).max() < 0.05 * np.abs(exact).max()
        assert np.sqrt((missed**2).mean()) < 0.015 * np.abs(exact).max()


def test_places_are_far_apart_and_points_belong_to_the_nearest() -> None:
    drawn = known_zone(2).drawn
    model = drawn.model
    points = np.flatnonzero(np.isnan(model.fixed_head_m))
    use = np.where(np.isnan(model.fixed_head_m), 3.0 / len(points), 0.0)
    state = solve(model, use)
    slopes = head_sensitivity(model, state, drawn.watch)
    centre, member = places(model, state, slopes, points, 1.0, 4)
    assert len(set(centre)) == 4
    assert [int(member[np.flatnonzero(points == c)[0]]) for c in centre] == [0, 1, 2, 3]

    # The ways between nodes by networkx.
    losses = losses_of(model)
    slope = head_lost(losses, state.flow_l_s).slope
    carried = np.abs(slopes[:, model.start] - slopes[:, model.end]).max(axis=0) / slope
    lost = head_lost(losses, np.ones(len(slope))).head_m * np.minimum(carried, 1.0) + 1e-9
    graph = nx.Graph()
    for start, end, metres in zip(model.start, model.end, lost, strict=True):
        known = graph.get_edge_data(start, end, {"weight": np.inf})["weight"]
        graph.add_edge(start, end, weight=min(float(metres), known))
    far = [nx.single_source_dijkstra_path_length(graph, int(c)) for c in centre]
    apart = np.array([[way[p] for p in points] for way in far])
    np.testing.assert_allclose(apart[member, np.arange(len(points))], apart.min(axis=0), rtol=1e-9)


def test_one_place_where_no_more_are_asked_for() -> None:
    drawn = known_zone(2).drawn
    points = np.flatnonzero(np.isnan(drawn.model.fixed_head_m))
    state = solve(drawn.model, np.where(np.isnan(drawn.model.fixed_head_m), 0.1, 0.0))
    slopes = head_sensitivity(drawn.model, state, drawn.watch)
    centre, member = places(drawn.model, state, slopes, points, 1.0, 1)
    assert len(centre) == 1
    assert not member.any()
