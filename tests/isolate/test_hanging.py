"""Tests of `district.isolate.hanging`: all at once, against one closure at a time."""

from __future__ import annotations

import numpy as np

from district.isolate.graph import graph_of, reached
from district.isolate.hanging import (
    branch_sums,
    cut_off,
    dry_alone,
    dry_together,
    hanging_of,
    pairs_of,
)
from district.isolate.piping import Piping
from tests.isolate.chance import chance_piping


def dense_piping(rng: np.random.Generator) -> Piping:
    """Every node a segment of its own, gates between them by chance: many links back."""
    nodes, gates = int(rng.integers(2, 14)), int(rng.integers(1, 25))
    ends = rng.integers(0, nodes, (2, gates))
    base = chance_piping(rng)
    pipes = np.arange(nodes)
    return Piping(
        **{
            **vars(base),
            "start": pipes,
            "end": pipes,
            "nodes_count": nodes,
            "gate_start": ends[0],
            "gate_end": ends[1],
            "gate_open": rng.random(gates) < 0.9,
            "gate_valves": (("V",),) * gates,
            "gate_shut": ((),) * gates,
            "gate_acting": ("",) * gates,
            "source_node": rng.integers(0, nodes, int(rng.integers(1, 3))),
            "acting_start": np.zeros(0, dtype=np.int64),
            "acting_end": np.zeros(0, dtype=np.int64),
        }
    )


def test_what_hangs_on_a_segment_and_on_each_pair_equals_one_walk_each() -> None:
    pairs_count = cut_count = 0
    for seed in range(1200):
        rng = np.random.default_rng([7, seed])
        piping = dense_piping(rng) if seed % 2 else chance_piping(rng)
        graph = graph_of(piping)
        hanging = hanging_of(graph)
        pairs = pairs_of(graph, hanging)
        assert ((hanging.place >= 0) == graph.fed).all()
        weight = rng.integers(1, 1000, (graph.segments_count, 2)).astype(float)
        by_place = np.zeros((len(hanging.above), 2))
        by_place[hanging.place[graph.fed]] = weight[graph.fed]
        alone = dry_alone(hanging, by_place)
        both = dry_together(hanging, pairs, by_place)

        def dry(*off: int, graph=graph, weight=weight) -> np.ndarray:  # type: ignore[no-untyped-def]
            flags = np.zeros(graph.segments_count, dtype=bool)
            flags[list(off)] = True
            return np.asarray(weight[graph.fed & ~reached(graph, flags)].sum(axis=0))

        for s in np.flatnonzero(graph.fed).tolist():
            assert (alone[hanging.place[s]] == dry(s)).all(), (seed, s)
        for row, gate in enumerate(pairs.gate.tolist()):
            found = dry(int(graph.gate_first[gate]), int(graph.gate_second[gate]))
            assert (both[row] == found).all(), (seed, gate)
        pairs_count += len(pairs.gate)
        cut_count += int(cut_off(hanging).sum())
    assert pairs_count > 5000
    assert cut_count > 500


def test_a_long_chain_is_walked_without_recursion() -> None:
    count = 30_000
    none = np.zeros(0, dtype=np.int64)
    pipes = np.arange(count)
    piping = Piping(
        start=pipes,
        end=pipes,
        nodes_count=count,
        gate_start=pipes[:-1],
        gate_end=pipes[1:],
        gate_open=np.ones(count - 1, dtype=bool),
        gate_valves=(("V",),) * (count - 1),
        gate_shut=((),) * (count - 1),
        source_node=np.array([0]),
        source_id=("S",),
        source_gate=np.array([-1]),
        acting_start=none,
        acting_end=none,
        acting_valve=(),
        gate_acting=("",) * (count - 1),
    )
    hanging = hanging_of(graph_of(piping))
    ones = np.ones((count + 1, 1))
    ones[0] = 0.0
    # Shut at its k-th pipe, a chain is dry from there on.
    assert (dry_alone(hanging, ones)[1:, 0] == np.arange(count, 0, -1)).all()
    assert branch_sums(hanging, ones)[0, 0] == count
