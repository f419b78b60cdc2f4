"""Tests of `district.isolate.step_trees`."""

from __future__ import annotations

import networkx as nx
import numpy as np
import pytest

from district.isolate.step_cost import cost_m
from district.isolate.step_trees import (
    best_cuts,
    cuttable,
    is_tree,
    step_cost_m,
    trees_of,
    valve_cost_m,
    whole,
)
from tests.isolate.step_zones import chance_weighing, chance_zone


@pytest.mark.parametrize("loops_count", [0, 6])
def test_every_tree_reaches_all_by_gates_that_are_there(loops_count: int) -> None:
    zone = chance_zone(np.random.default_rng(2), count=15, loops_count=loops_count, kept_count=2)
    there = {frozenset(p) for p in zip(zone.first.tolist(), zone.second.tolist(), strict=True)}
    trees = trees_of(zone)
    assert is_tree(zone) == (loops_count == 0)
    assert (len(trees) == 1) == is_tree(zone)
    for tree in trees:
        links = [(int(p), v) for v, p in enumerate(tree.parent) if p >= 0]
        assert all(frozenset(link) in there for link in links)
        graph = nx.DiGraph(links)
        assert nx.is_arborescence(graph)
        for v in range(15):
            assert set(np.flatnonzero(tree.under[v])) == {v, *nx.descendants(graph, v)}
        assert not any(zone.kept[tree.under[v]].any() for v in cuttable(zone, tree))


def test_what_cuts_cost_and_need_is_what_they_say() -> None:
    rng = np.random.default_rng(4)
    zone = chance_zone(rng, count=14, loops_count=5, kept_count=1)
    weighing = chance_weighing(rng, zone)
    graph = nx.Graph(zip(zone.first.tolist(), zone.second.tolist(), strict=True))
    found = best_cuts(zone, weighing, trees_of(zone)[0], steps_count=3, most_extra_count=4)
    assert len(found) > 1
    assert [p.cost_m for p in found] == sorted(p.cost_m for p in found)
    assert found[0].cost_m < whole(zone, weighing).cost_m
    for parting in found:
        crossing = int((parting.part[zone.first] != parting.part[zone.second]).sum())
        assert parting.gates_count == crossing
        assert parting.extra_count() <= 4
        parts = [parting.part == p for p in range(parting.part.max() + 1)]
        assert all(nx.is_connected(graph.subgraph(np.flatnonzero(p))) for p in parts)
        listen = sum(float(cost_m(weighing, weighing.features[p].sum(axis=0))) for p in parts)
        turned = valve_cost_m(weighing) * parting.extra_count()
        turned += step_cost_m(weighing) * (len(parts) - 1)
        np.testing.assert_allclose(parting.cost_m, listen + turned)


def test_the_same_parting_is_kept_once() -> None:
    rng = np.random.default_rng(8)
    zone = chance_zone(rng, count=6, loops_count=0)
    weighing = chance_weighing(rng, zone)
    found = best_cuts(zone, weighing, trees_of(zone)[0], steps_count=2, most_extra_count=0)
    shapes = {
        frozenset(frozenset(np.flatnonzero(p.part == k).tolist()) for k in set(p.part.tolist()))
        for p in found
    }
    assert len(shapes) == len(found)
