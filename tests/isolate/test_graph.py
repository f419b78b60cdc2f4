"""Tests of `district.isolate.graph`, against walks by networkx and all closures tried."""

from __future__ import annotations

from itertools import combinations

import networkx as nx
import numpy as np
import pytest

from district.isolate.graph import Closure, SegmentGraph, closure, graph_of, pieces, reached
from district.isolate.piping import OUTSIDE, Piping
from tests.isolate.chance import chance_piping, ways, wet_nodes

NETWORKS = 2000


def drawn(seed: int) -> tuple[Piping, SegmentGraph, np.random.Generator]:
    rng = np.random.default_rng([20_250_611, seed])
    piping = chance_piping(rng)
    return piping, graph_of(piping), rng


def asked(piping: Piping, graph: SegmentGraph, rng: np.random.Generator) -> Closure:
    """A closure for one to three pipes, with none to two gates stuck; and what was wanted."""
    wanted = np.zeros(graph.segments_count, dtype=bool)
    wanted[graph.pipe_segment[rng.integers(0, len(piping.start), int(rng.integers(1, 4)))]] = True
    open_gates = np.flatnonzero(piping.gate_open)
    count = min(len(open_gates), int(rng.integers(0, 3)))
    stuck = set(rng.permutation(open_gates)[:count].tolist())
    made = closure(graph, wanted, stuck)
    assert (made.shut_off | ~wanted).all()
    assert not set(made.gates.tolist()) & stuck
    return made


@pytest.mark.parametrize("part", range(4))
def test_the_segments_and_the_plan_are_those_of_a_walk_through_the_pipes(part: int) -> None:
    """On 2,000 networks: what is said to be dry is dry, everything else is fed as before, and no
    valve of the plan may stay open."""
    seen = {"unintended": 0, "idle": 0, "several": 0, "source": 0, "outlet": 0}
    for seed in range(part * NETWORKS // 4, (part + 1) * NETWORKS // 4):
        piping, graph, rng = drawn(seed)
        bare = ways(piping, gates=False)
        bare.remove_node("supply")
        for number, own in enumerate(nx.connected_components(bare)):
            assert len({int(graph.node_segment[n]) for n in own}) == 1, (seed, number)
        assert nx.number_connected_components(bare) == graph.segments_count
        wet = wet_nodes(piping)
        made = asked(piping, graph, rng)
        fed = {n for n in range(piping.nodes_count) if graph.fed[graph.node_segment[n]]}
        assert fed == wet
        of_node = graph.node_segment
        off = {n for n in range(piping.nodes_count) if made.shut_off[of_node[n]]}
        lost = {n for n in range(piping.nodes_count) if made.unintended[of_node[n]]}
        gates, works = made.gates.tolist(), made.outlets.tolist()
        shut_too = {"no_source_at": off, "no_source_behind": works}
        assert wet_nodes(piping, shut=gates, **shut_too) == wet - off - lost, seed
        for gate in gates:
            kept = [g for g in gates if g != gate]
            assert wet_nodes(piping, shut=kept, **shut_too) & off, (seed, gate)
        every = set(np.flatnonzero(piping.gate_open).tolist())
        around = {g for g in every if made.shut_off[_sides(graph, g)].sum() == 1}
        assert {*gates, *made.may_stay_open.tolist()} == around - set(works)
        assert all(piping.gate_end[g] == OUTSIDE for g in works)
        seen["unintended"] += bool(lost)
        seen["idle"] += bool(len(made.may_stay_open))
        seen["several"] += len(gates) > 3
        seen["source"] += made.sources_inside
        seen["outlet"] += bool(works)
    assert min(seen.values()) > 5, seen


def _sides(graph: SegmentGraph, gate: int) -> list[int]:
    """Segments beside a gate, the supply left out."""
    both = [int(graph.gate_first[gate]), int(graph.gate_second[gate])]
    return [s for s in both if s < graph.segments_count]


def test_no_other_closure_keeps_more_fed() -> None:
    """All sets of gates tried: each that makes the wanted pipes dry leaves at least as much dry."""
    tried = 0
    for seed in range(400):
        piping, graph, rng = drawn(seed)
        gates = np.flatnonzero(piping.gate_open).tolist()
        if not 1 <= len(gates) <= 6:
            continue
        made = asked(piping, graph, rng)
        off = {n for n in range(piping.nodes_count) if made.shut_off[graph.node_segment[n]]}
        shut_too = {"no_source_at": off, "no_source_behind": made.outlets.tolist()}
        ours = wet_nodes(piping, shut=made.gates.tolist(), **shut_too)
        for size in range(len(gates) + 1):
            for some in combinations(gates, size):
                wet = wet_nodes(piping, shut=some, **shut_too)
                if not wet & off:
                    assert wet <= ours
                    tried += 1
    assert tried > 500


def test_segments_are_numbered_by_their_first_pipe() -> None:
    for seed in range(50):
        piping, graph, _ = drawn(seed)
        first = [int(np.argmax(graph.pipe_segment == s)) for s in set(graph.pipe_segment.tolist())]
        assert first == sorted(first)
        assert set(graph.pipe_segment.tolist()) == set(range(len(first)))
        assert (graph.pipe_segment == graph.node_segment[piping.end]).all()


def test_pieces_without_a_segment_are_those_that_stay_joined() -> None:
    for seed in range(200):
        _, graph, rng = drawn(seed)
        off = rng.random(graph.segments_count) < 0.2
        label = pieces(graph, off)
        left = reached(graph, off)
        assert ((label[:-1] == label[-1]) == left).all()
        assert not (left & off).any()


def test_a_shut_valve_that_lets_water_past_joins_both_its_sides() -> None:
    #  supply -- s0 --|gate 0 shut|-- s1: with gate 0 stuck, s1 hangs on what is done to s0.
    none = np.zeros(0, dtype=np.int64)
    piping = Piping(
        start=np.array([0, 2]),
        end=np.array([1, 3]),
        nodes_count=4,
        gate_start=np.array([1]),
        gate_end=np.array([2]),
        gate_open=np.array([False]),
        gate_valves=(("V0",),),
        gate_shut=(("V0",),),
        source_node=np.array([0]),
        source_id=("S",),
        source_gate=np.array([-1]),
        acting_start=none,
        acting_end=none,
        acting_valve=(),
        gate_acting=("",),
    )
    graph = graph_of(piping)
    assert graph.fed.tolist() == [True, False]
    dry = closure(graph, np.array([False, True]))
    assert not len(dry.gates)
    assert not dry.sources_inside
    leaking = closure(graph, np.array([False, True]), {0})
    assert leaking.shut_off.tolist() == [True, True]
    assert leaking.sources_inside
