"""Networks drawn by chance, and what is wet in them, walked by a general library."""

from __future__ import annotations

from collections.abc import Collection

import networkx as nx
import numpy as np

from district.isolate.piping import OUTSIDE, Piping

SUPPLY = "supply"


def chance_piping(rng: np.random.Generator, *, most_pipes: int = 40) -> Piping:
    """Up to so many pipes between fewer nodes; gates on a part of them, some shut, some at a
    source's outlet, some with both sides in one place; none to three sources; a check valve."""
    pipes = int(rng.integers(1, most_pipes + 1))
    nodes = int(rng.integers(2, max(3, int(pipes * rng.uniform(0.5, 1.2)))))
    ends = rng.integers(0, nodes, (2, pipes))
    # A gate near one end of a pipe: the end moves to a node of its own, the gate bridges the two.
    gated = np.flatnonzero(rng.random(pipes) < rng.uniform(0.1, 0.9))
    added = nodes + np.arange(len(gated))
    was = ends[0, gated].copy()
    ends[0, gated] = added
    total = nodes + len(gated)
    sources = rng.integers(0, nodes, int(rng.integers(0, 4)))
    gate_start, gate_end = was, added
    entering = sources.copy()
    through = np.full(len(sources), -1)
    for s in np.flatnonzero(rng.random(len(sources)) < 0.3):
        through[s] = len(gate_start)
        gate_start = np.append(gate_start, sources[s])
        gate_end = np.append(gate_end, OUTSIDE)
        entering[s] = OUTSIDE
    acting = rng.integers(0, total, (2, int(rng.integers(0, 2))))
    count = len(gate_start)
    shut = rng.random(count) < 0.1
    return Piping(
        start=ends[0],
        end=ends[1],
        nodes_count=total,
        gate_start=gate_start,
        gate_end=gate_end,
        gate_open=~shut,
        gate_valves=tuple((f"V{g}",) for g in range(count)),
        gate_shut=tuple((f"V{g}",) if shut[g] else () for g in range(count)),
        source_node=entering,
        source_id=tuple(f"S{s}" for s in range(len(sources))),
        source_gate=through,
        acting_start=acting[0],
        acting_end=acting[1],
        acting_valve=tuple(f"C{a}" for a in range(acting.shape[1])),
        gate_acting=("",) * count,
    )


def ways(piping: Piping, *, gates: bool = True) -> nx.MultiGraph:
    """What water may pass, as a graph of networkx; open gates carry their number as key."""
    graph = nx.MultiGraph()
    graph.add_nodes_from(range(piping.nodes_count))
    graph.add_node(SUPPLY)
    graph.add_edges_from(zip(piping.start.tolist(), piping.end.tolist(), strict=True))
    graph.add_edges_from(zip(piping.acting_start.tolist(), piping.acting_end.tolist(), strict=True))
    for node in piping.source_node.tolist():
        if node != OUTSIDE:
            graph.add_edge(SUPPLY, node)
    for gate in np.flatnonzero(piping.gate_open).tolist() if gates else ():
        end = int(piping.gate_end[gate])
        graph.add_edge(
            int(piping.gate_start[gate]), SUPPLY if end == OUTSIDE else end, key=f"gate {gate}"
        )
    return graph


def wet_nodes(
    piping: Piping,
    *,
    shut: Collection[int] = (),
    no_source_at: Collection[int] = (),
    no_source_behind: Collection[int] = (),
) -> set[int]:
    """Nodes that water reaches with gates `shut`, and sources at the nodes `no_source_at`, and
    those behind gates `no_source_behind`, shut at their works."""
    graph = ways(piping)
    for gate in {*shut, *no_source_behind}:
        end = int(piping.gate_end[gate])
        other = SUPPLY if end == OUTSIDE else end
        graph.remove_edge(int(piping.gate_start[gate]), other, key=f"gate {gate}")
    for node in set(no_source_at) & set(piping.source_node.tolist()):
        # Sources with no gate between; a gate at the same node stays.
        for key in [k for k in graph[SUPPLY][node] if not str(k).startswith("gate")]:
            graph.remove_edge(SUPPLY, node, key=key)
    return set(nx.node_connected_component(graph, SUPPLY)) - {SUPPLY}
