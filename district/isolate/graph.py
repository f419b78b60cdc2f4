"""Segments as the nodes of a graph, open gates as its links, and what a closure leaves dry."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass, replace

import numpy as np
from scipy.sparse import csr_array
from scipy.sparse.csgraph import breadth_first_order, connected_components

from district.hydraulics.model import Flags, Wholes
from district.isolate.piping import OUTSIDE, Piping


@dataclass(frozen=True, eq=False)
class SegmentGraph:
    """S segments, numbered by the first pipe of each, and the supply, which is number S.

    pipe_segment (P), node_segment (N)
    segments_count
    gate_first, gate_second (G)
        segments on both sides of each gate; S where it is the supply.
    gate_open (G)
    fed_inside (S)
        whether a source stands in the segment with no gate between.
    way_from, way_to
        every way water may take between segments and the supply over open gates, both ways, in
        order of `way_from`; those from number s begin at way_begin[s] (S + 2).
    fed (S)
        whether water reaches it as the valves stand.
    """

    pipe_segment: Wholes
    node_segment: Wholes
    segments_count: int
    gate_first: Wholes
    gate_second: Wholes
    gate_open: Flags
    fed_inside: Flags
    way_from: Wholes
    way_to: Wholes
    way_begin: Wholes
    fed: Flags


@dataclass(frozen=True, eq=False)
class Closure:
    """What it takes to make some segments dry.

    shut_off (S)
        segments to be shut off: those asked for, and those behind gates that do not close.
    gates (list of gates to shut), may_stay_open (gates between what is dry on both sides)
    already_shut (gates that stand shut between what is dry then and what stays fed)
    unintended (S)
        segments that were fed and have no way left to a source.
    sources_inside
        whether a source stands in what is shut off: it has to be shut at its own works.
    outlets (gates at the outlet of a source that do not close: the same goes for that source)
    """

    shut_off: Flags
    gates: Wholes
    may_stay_open: Wholes
    already_shut: Wholes
    unintended: Flags
    sources_inside: bool
    outlets: Wholes


def graph_of(piping: Piping) -> SegmentGraph:
    """Cut the piping at its gates: what hangs together without passing one is a segment."""
    rows = np.concatenate([piping.start, piping.acting_start])
    columns = np.concatenate([piping.end, piping.acting_end])
    label = labels(piping.nodes_count, rows, columns)
    # Numbered by the first pipe; nodes without a pipe come last.
    order = np.concatenate([label[piping.start], label])
    _, position, again = np.unique(order, return_index=True, return_inverse=True)
    rank = np.empty(len(position), dtype=np.int64)
    rank[np.argsort(position, kind="stable")] = np.arange(len(position))
    number = rank[again]
    pipes = len(piping.start)
    pipe_segment, node_segment = number[:pipes], number[pipes:]
    count = len(position)
    inside = np.zeros(count, dtype=bool)
    inside[node_segment[piping.source_node[piping.source_node != OUTSIDE]]] = True
    beyond = np.append(node_segment, count)
    first = beyond[piping.gate_start]
    second = np.where(piping.gate_end == OUTSIDE, count, beyond[piping.gate_end])
    fed = np.flatnonzero(inside)
    rows = np.concatenate([first[piping.gate_open], np.full(len(fed), count)])
    columns = np.concatenate([second[piping.gate_open], fed])
    ways = np.column_stack([np.append(rows, columns), np.append(columns, rows)])
    ways = ways[np.argsort(ways[:, 0], kind="stable")]
    bare = SegmentGraph(
        pipe_segment=pipe_segment,
        node_segment=node_segment,
        segments_count=count,
        gate_first=first,
        gate_second=second,
        gate_open=piping.gate_open,
        fed_inside=inside,
        way_from=ways[:, 0],
        way_to=ways[:, 1],
        way_begin=np.searchsorted(ways[:, 0], np.arange(count + 2)),
        fed=np.zeros(count, dtype=bool),
    )
    return replace(bare, fed=reached(bare, np.zeros(count, dtype=bool)))


def pieces(graph: SegmentGraph, shut_off: Flags) -> Wholes:
    """What is left without the segments that are `shut_off` (S): a label for each segment and the
    supply (S + 1), the same where open gates join them. Those shut off stand each alone."""
    count = graph.segments_count
    passable = np.append(~shut_off, True)
    on = passable[graph.way_from] & passable[graph.way_to]
    return labels(count + 1, graph.way_from[on], graph.way_to[on])


def reached(graph: SegmentGraph, shut_off: Flags) -> Flags:
    """Segments (S) to which open gates lead from the supply past those that are `shut_off` (S)."""
    count = graph.segments_count
    # A way into what is shut off leads nowhere: back to where it comes from.
    to = np.where(np.append(shut_off, False)[graph.way_to], graph.way_from, graph.way_to)
    ways = csr_array((np.ones(len(to)), to, graph.way_begin), shape=(count + 1, count + 1))
    left = np.zeros(count + 1, dtype=bool)
    left[breadth_first_order(ways, count, return_predecessors=False)] = True
    return left[:count]


def closure(graph: SegmentGraph, wanted: Flags, stuck: Collection[int] = ()) -> Closure:
    """The least that must be shut so that the `wanted` (S) segments are dry.

    Gates that are `stuck` do not close, so that the segments behind them are shut off too. The
    gates are those between what is shut off and what stays fed: none of them may stay open, and
    nothing is dry that another closure would keep fed, since whatever is cut off
    unintentionally is fed through the wanted segments alone. Segments without water before are
    neither unintended nor a reason to shut a gate.
    """
    first, second = graph.gate_first, graph.gate_second
    shut_off = _beyond_stuck(graph, wanted, stuck)
    left = reached(graph, shut_off)
    is_fed = np.append(left, True)
    is_off = np.append(shut_off, False)
    fails = np.zeros(len(first), dtype=bool)
    fails[list(stuck)] = True
    # What is stuck has both its sides shut off, but for the supply itself.
    outlets = fails & (is_off[first] != is_off[second])
    edge = (is_off[first] != is_off[second]) & graph.gate_open & ~fails
    needed = edge & (is_fed[first] | is_fed[second])
    unintended = graph.fed & ~left & ~shut_off
    is_dry = np.append(shut_off | unintended, False)
    holds = (is_dry[first] & is_fed[second]) | (is_dry[second] & is_fed[first])
    return Closure(
        shut_off=shut_off,
        gates=np.flatnonzero(needed),
        may_stay_open=np.flatnonzero(edge & ~needed),
        already_shut=np.flatnonzero(~graph.gate_open & holds & ~fails),
        unintended=unintended,
        sources_inside=bool((graph.fed_inside & shut_off).any()),
        outlets=np.flatnonzero(outlets),
    )


def _beyond_stuck(graph: SegmentGraph, wanted: Flags, stuck: Collection[int]) -> Flags:
    """The wanted segments, and all that gates which do not close join to them."""
    gates = np.array(sorted(stuck), dtype=np.int64)
    first, second = graph.gate_first[gates], graph.gate_second[gates]
    inner = (first < graph.segments_count) & (second < graph.segments_count)
    first, second = first[inner], second[inner]
    shut_off = wanted.copy()
    while (grows := shut_off[first] != shut_off[second]).any():
        shut_off[first[grows]] = shut_off[second[grows]] = True
    return shut_off


def labels(count: int, rows: Wholes, columns: Wholes) -> Wholes:
    """A label for each of `count` things, the same for all that links (rows, columns) join."""
    links = csr_array((np.ones(len(rows)), (rows, columns)), shape=(count, count))
    return np.asarray(connected_components(links, directed=False)[1], dtype=np.int64)
