"""Tests of `district.isolate.step_moves`."""

from __future__ import annotations

import networkx as nx
import numpy as np

from district.isolate.step_cost import cost_m
from district.isolate.step_moves import improved
from district.isolate.step_trees import (
    Parting,
    best_cuts,
    step_cost_m,
    trees_of,
    valve_cost_m,
    whole,
)
from tests.isolate.step_zones import chance_weighing, chance_zone


def test_moves_help_and_keep_every_part_in_one_piece() -> None:
    better = 0
    for seed in range(8):
        rng = np.random.default_rng(seed)
        zone = chance_zone(rng, count=20, loops_count=10, kept_count=1)
        weighing = chance_weighing(rng, zone)
        graph = nx.Graph(zip(zone.first.tolist(), zone.second.tolist(), strict=True))
        begun = best_cuts(zone, weighing, trees_of(zone)[0], steps_count=3, most_extra_count=6)[-1]
        found = improved(zone, weighing, begun, most_extra_count=6)
        better += found.cost_m < begun.cost_m - 1e-6
        assert found.cost_m <= begun.cost_m
        assert not found.part[zone.kept].any()
        assert set(found.part) == set(begun.part)
        parts = [found.part == p for p in range(found.part.max() + 1)]
        assert all(nx.is_connected(graph.subgraph(np.flatnonzero(p))) for p in parts)
        crossing = int((found.part[zone.first] != found.part[zone.second]).sum())
        assert found.gates_count == crossing
        assert found.extra_count() <= 6
        listen = sum(float(cost_m(weighing, weighing.features[p].sum(axis=0))) for p in parts)
        valves = valve_cost_m(weighing) * found.extra_count()
        valves += step_cost_m(weighing) * int(found.part.max())
        np.testing.assert_allclose(found.cost_m, listen + valves)
    assert better >= 4


def test_one_part_has_nowhere_to_go() -> None:
    rng = np.random.default_rng(1)
    zone = chance_zone(rng, count=5, loops_count=1)
    alone: Parting = whole(zone, chance_weighing(rng, zone))
    assert improved(zone, chance_weighing(rng, zone), alone, most_extra_count=3) is alone
