"""Streets of a zone: as many as asked for, joined, with loops and dead ends."""

from __future__ import annotations

import networkx as nx
import numpy as np
import pytest

from district.simulate.leak_trial_streets import Streets, draw_streets_of_zone


def streets_of(seed: int, **changed: float) -> Streets:
    how = {"pipes_count": 400, "loops_share": 0.17, "block_m": 60.0, "gates_count": 2} | changed
    return draw_streets_of_zone(np.random.default_rng(seed), **how)  # type: ignore[arg-type]


def graph_of(streets: Streets) -> nx.Graph:
    graph = nx.Graph()
    graph.add_edges_from(zip(streets.start, streets.end, strict=True))
    return graph


@pytest.mark.parametrize("pipes_count", [20, 200, 2000])
def test_as_many_mains_as_asked_for_all_joined(pipes_count: int) -> None:
    streets = streets_of(1, pipes_count=pipes_count)
    graph = graph_of(streets)
    assert graph.number_of_edges() == len(streets.start) == pipes_count
    assert nx.is_connected(graph)
    assert graph.number_of_nodes() == len(streets.place_m)


def test_crossings_have_2_4_mains_on_average_and_some_streets_end() -> None:
    degrees = np.array([d for _, d in graph_of(streets_of(2, pipes_count=2000)).degree()])
    assert degrees.mean() == pytest.approx(2.4, abs=0.05)
    assert 0.08 < (degrees == 1).mean() < 0.35


def test_loops_are_those_asked_for() -> None:
    assert nx.number_of_edges(graph_of(streets_of(3, loops_share=0.0))) == 400
    assert nx.is_tree(graph_of(streets_of(3, loops_share=0.0)))
    assert len(nx.cycle_basis(graph_of(streets_of(3, loops_share=0.1)))) == 40


def test_mains_are_about_a_block_long() -> None:
    length = streets_of(4).length_m()
    assert length.min() > 20.0
    assert length.mean() == pytest.approx(60.0, rel=0.1)


def test_gates_are_apart_and_at_the_edge() -> None:
    for seed in range(10):
        streets = streets_of(seed)
        first, second = streets.place_m[streets.gates]
        across = np.ptp(streets.place_m, axis=0).min()
        assert np.hypot(*(first - second)) > across / 3


def test_more_loops_than_the_grid_has_are_refused() -> None:
    with pytest.raises(ValueError, match="at most"):
        streets_of(1, loops_share=0.6)
