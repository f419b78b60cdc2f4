"""Tests of `district.locate.cuts`."""

from __future__ import annotations

from itertools import combinations

import networkx as nx
import numpy as np
import pytest

from district.locate.cuts import best_cuts


def zone(seed: int) -> tuple[np.ndarray, np.ndarray]:
    """A ring with a chord, trees on it, a doubled pipe, a loop on one node, and a part apart."""
    random = np.random.default_rng(seed)
    pairs = [(i, (i + 1) % 8) for i in range(8)] + [(0, 3)]
    pairs += [(int(random.integers(0, n)), n) for n in range(8, 18)]
    pairs += [(9, 10), (pairs[-1]), (5, 5), (30, 31), (31, 32)]
    order = random.permutation(len(pairs))
    start, end = np.array(pairs)[order].T
    return start * 7, end * 7


def parts(start: np.ndarray, end: np.ndarray, without: tuple[int, ...]) -> list[set[int]]:
    graph = nx.MultiGraph()
    graph.add_nodes_from([*start, *end])
    graph.add_edges_from(
        (a, b) for i, (a, b) in enumerate(zip(start, end, strict=True)) if i not in without
    )
    return list(nx.connected_components(graph))


@pytest.mark.parametrize("seed", range(6))
def test_the_cuts_are_those_found_by_taking_pipes_out(seed: int) -> None:
    """Every bridge and every pair that parts the zone, by networkx, one after the other."""
    start, end = zone(seed)
    found = best_cuts(start, end, np.ones(len(start)), least_share=0.0, most_count=1000)
    whole = len(parts(start, end, ()))
    bridges = {i for i in range(len(start)) if len(parts(start, end, (i,))) > whole}
    held = {c.pipes for c in found}
    assert {p for p in held if len(p) == 1} <= {(i,) for i in bridges}
    pairs = {
        p
        for p in combinations(set(range(len(start))) - bridges, 2)
        if len(parts(start, end, p)) > whole
    }
    assert {tuple(sorted(p)) for p in held if len(p) == 2} <= pairs
    # A bridge with nothing beyond it, and a pair around one node, are no cut worth telling.
    for cut in found:
        assert cut.beyond.any()
        nodes = {*start[cut.beyond], *end[cut.beyond]}
        apart = [part for part in parts(start, end, cut.pipes) if part & nodes]
        assert set().union(*apart) == nodes
    empty_sided = [(i,) for i in bridges if (i,) not in held]
    assert all(min(len(_beyond(start, end, p)), 1) == 0 for p in empty_sided)


def _beyond(start: np.ndarray, end: np.ndarray, cut: tuple[int, ...]) -> list[int]:
    """Pipes of the smaller of the two parts a bridge makes."""
    (i,) = cut
    sides = [part for part in parts(start, end, cut) if part & {start[i], end[i]}]
    small = min(sides, key=len)
    return [k for k in range(len(start)) if start[k] in small and end[k] in small]


def test_the_best_cut_halves_what_it_weighs() -> None:
    start, end = np.arange(20), np.arange(1, 21)
    weight = np.ones(20)
    weight[:5] = 10.0
    best = best_cuts(start, end, weight, least_share=0.2, most_count=3)
    assert best[0].pipes == (2,)  # 20 before it and 10 on it, 35 beyond
    assert all(0.2 * weight.sum() <= weight[c.beyond].sum() for c in best)
    assert len(best) == 3


def test_a_ring_is_cut_by_two() -> None:
    start, end = np.arange(10), (np.arange(10) + 1) % 10
    best = best_cuts(start, end, np.ones(10), least_share=0.3, most_count=5)
    assert best
    assert {len(c.pipes) for c in best} == {2}
    assert best[0].beyond.sum() == 5


def test_nothing_is_cut_where_there_is_nothing() -> None:
    none = np.zeros(0, dtype=int)
    assert best_cuts(none, none, np.zeros(0), least_share=0.1, most_count=5) == []
    assert best_cuts(np.array([0]), np.array([1]), np.ones(1), least_share=0.1, most_count=5) == []
