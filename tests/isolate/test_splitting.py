"""Tests of `district.isolate.splitting`: by hand, and against every place tried in turn."""

from __future__ import annotations

import networkx as nx
import numpy as np
import pytest

from district.isolate.splitting import Inside, best_split


def inside(
    links: list[tuple[int, int]],
    own: list[float],
    ties: list[tuple[int, int]],
    areas: list[float],
    length_m: list[float] | None = None,
) -> Inside:
    ends = np.array(links, dtype=np.int64).reshape(-1, 2)
    table = np.array(ties, dtype=np.int64).reshape(-1, 2)
    return Inside(
        nodes_count=int(ends.max()) + 1,
        start=ends[:, 0],
        end=ends[:, 1],
        fits=np.ones(len(ends), dtype=bool),
        length_m=np.array(length_m or [100.0] * len(ends)),
        own=np.array(own),
        tie_node=table[:, 0],
        tie_area=table[:, 1],
        area_own=np.array(areas),
    )


def test_a_chain_fed_at_one_end_is_parted_where_it_spares_most() -> None:
    # 0 -10- 1 -20- 2 -30- 3, fed at 0: a break beyond the valve spares what is before it.
    found = best_split(inside([(0, 1), (1, 2), (2, 3)], [10, 20, 30], [(0, -1)], []))
    assert found is not None
    # Before pipe 2: 100 m spare 30; before pipe 1: 200 m spare 10; so the first.
    assert (found.pipe, found.at_start) in ((2, True), (1, False))
    assert found.spared == pytest.approx(100 * 30)


def test_an_area_that_hangs_on_one_side_is_spared_by_a_break_on_the_other() -> None:
    # Fed at 0; 500 properties hang on node 1, before the last pipe.
    found = best_split(inside([(0, 1), (1, 2)], [0, 1], [(0, -1), (1, 0)], [500]))
    assert found is not None
    assert found.spared == pytest.approx(100 * 500)
    assert (found.one_side_m, found.other_side_m) == (100.0, 100.0)


def test_a_ring_is_parted_by_no_single_valve() -> None:
    assert best_split(inside([(0, 1), (1, 2), (2, 0)], [9, 9, 9], [(0, -1), (1, -1)], [])) is None


def test_what_no_source_reaches_past_the_segment_spares_nothing() -> None:
    assert best_split(inside([(0, 1), (1, 2)], [9, 9], [], [])) is None


def test_no_valve_is_fitted_on_a_check_valve() -> None:
    scene = inside([(0, 1), (1, 2)], [5, 5], [(0, -1)], [])
    only = Inside(**{**vars(scene), "fits": np.array([False, False])})
    assert best_split(only) is None


def every_place(scene: Inside) -> float:
    """The most that any end of any pipe spares, each tried with networkx."""
    total = float(scene.own.sum() + scene.area_own.sum())
    best = 0.0
    pipes = range(len(scene.start))
    for pipe in pipes:
        for at_start in (True, False):
            graph = nx.MultiGraph()
            graph.add_nodes_from(range(scene.nodes_count))
            for p in pipes:
                first, last = int(scene.start[p]), int(scene.end[p])
                if p == pipe:
                    first, last = ("new", last) if at_start else (first, "new")
                graph.add_edge(first, last, key=p)
            parts = list(nx.connected_components(graph))
            if len(parts) != 2:
                continue
            spared = 0.0
            lengths = []
            for part in parts:
                ours = {k for _, _, k in graph.edges(part, keys=True)}
                there = {
                    int(a)
                    for n, a in zip(scene.tie_node, scene.tie_area, strict=True)
                    if int(n) not in part
                }
                lengths.append(sum(scene.length_m[p] for p in ours))
                lost = total
                if -1 in there:
                    lost = sum(scene.own[p] for p in ours)
                    lost += sum(w for a, w in enumerate(scene.area_own) if a not in there)
                spared += lengths[-1] * (total - lost)
            if min(lengths) > 0:
                best = max(best, spared)
    return best


def test_the_best_place_is_the_best_of_all_places() -> None:
    parted = 0
    for seed in range(300):
        rng = np.random.default_rng([11, seed])
        nodes = int(rng.integers(2, 12))
        links = [(int(rng.integers(0, n)), n) for n in range(1, nodes)]
        links += [tuple(rng.integers(0, nodes, 2).tolist()) for _ in range(rng.integers(0, 3))]
        areas = rng.integers(1, 50, int(rng.integers(0, 3))).astype(float).tolist()
        ties = [(int(rng.integers(0, nodes)), a) for a in range(len(areas))]
        ties += [
            (int(rng.integers(0, nodes)), int(rng.integers(-1, len(areas))))
            for _ in range(rng.integers(0, 4))
        ]
        own = rng.integers(0, 30, len(links)).astype(float).tolist()
        scene = inside(links, own, ties, areas, rng.integers(1, 200, len(links)).tolist())
        found = best_split(scene)
        assert (found.spared if found else 0.0) == pytest.approx(every_place(scene)), seed
        parted += found is not None
    assert parted > 150
