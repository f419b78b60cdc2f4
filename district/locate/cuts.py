"""Where one or two meters more would part a zone in two: bridges, and pairs that cut a ring."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import combinations
from typing import Any

import numpy as np
from scipy.sparse import csr_array
from scipy.sparse.csgraph import breadth_first_order, connected_components

from district.break_rates import Reals
from district.locate.pooling import Wholes

Flags = np.ndarray[Any, np.dtype[np.bool_]]
_SEED = 19_830_711
_OF_A_RING = 12


@dataclass(frozen=True, eq=False)
class Cut:
    """One or two pipes that, metered, tell two sides of a zone apart.

    pipes
        positions of the one or two pipes.
    beyond (P)
        pipes wholly on the far side; the cut ones count as near.
    """

    pipes: tuple[int, ...]
    beyond: Flags


@dataclass(frozen=True, eq=False)
class _Tree:
    """A spanning tree over the nodes and one root above all parts.

    upward (nodes): pipe to the node above, -1 where none; place, size (nodes): a node and all
    below it stand at place .. place + size - 1.
    """

    order: Wholes
    above: Wholes
    upward: Wholes
    place: Wholes
    size: Wholes

    def below(self, node: int) -> Flags:
        begin = self.place[node]
        return np.asarray((self.place >= begin) & (self.place < begin + self.size[node]))


def best_cuts(
    start: Wholes, end: Wholes, weight: Reals, *, least_share: float, most_count: int
) -> list[Cut]:
    """The cuts whose smaller side weighs most: by one pipe first, then by two.

    Parameters, by pipe of one zone (P): `start`, `end` numbers of nodes, `weight` what a side is
    weighed by (expected leaks). `least_share` of all of it must lie on the smaller side; at most
    `most_count` cuts of each kind. Parts that do not hang together are cut each by itself.

    Each pipe off a spanning tree gets a random number, each pipe of it the exclusive-or of those
    of the pipes that pass it by: 0 marks a bridge, equal numbers mark a pair that cuts.
    Source: Pritchard & Thurimella 2011, ACM Transactions on Algorithms 7(4) 46 (from memory).
    """
    if not len(start):
        return []
    names, ends = np.unique(np.concatenate([start, end]), return_inverse=True)
    first, last = ends[: len(start)], ends[len(start) :]
    tree = _tree(first, last, len(names))
    mark = _marks(tree, first, last, len(start))
    at_node = np.bincount(first, weights=weight, minlength=len(tree.above)).astype(np.float64)
    for node in tree.order[:0:-1]:
        at_node[tree.above[node]] += at_node[node]
    lower = np.full(len(start), -1)  # the lower end of each pipe of the tree
    hung = np.flatnonzero(tree.upward >= 0)
    lower[tree.upward[hung]] = hung
    total = float(weight.sum())

    singles = [(i,) for i in np.flatnonzero((mark == 0) & (lower >= 0)).tolist()]
    doubles = _doubles(mark, lower, at_node)
    found = []
    for some in (singles, doubles):
        rough = sorted(some, key=lambda p: (-_lesser(_side(p, lower, tree, at_node), total), p))
        cuts = [_cut(p, first, last, lower, tree) for p in rough[: 2 * most_count]]
        lesser = [_lesser(float(weight[c.beyond].sum()), total) for c in cuts]
        ranked = sorted(zip(lesser, cuts, strict=True), key=lambda c: (-c[0], c[1].pipes))
        fit = [c for held, c in ranked if held > 0 and held >= least_share * total]
        found += fit[:most_count]
    return found


def _lesser(side: float, total: float) -> float:
    return min(side, total - side)


def _tree(first: Wholes, last: Wholes, count: int) -> _Tree:
    links = csr_array((np.ones(len(first)), (first, last)), shape=(count, count))
    label = connected_components(links, directed=False)[1]
    tops = np.unique(label, return_index=True)[1]
    rows = np.concatenate([first, np.full(len(tops), count)])
    columns = np.concatenate([last, tops])
    links = csr_array((np.ones(len(rows)), (rows, columns)), shape=(count + 1, count + 1))
    order, above = breadth_first_order(links, count, directed=False)
    pipe_of = {
        frozenset(pair): i for i, pair in enumerate(zip(first.tolist(), last.tolist(), strict=True))
    }
    upward = np.full(count + 1, -1)
    size = np.ones(count + 1, dtype=np.int64)
    for node in order[:0:-1]:
        upward[node] = pipe_of.get(frozenset((int(node), int(above[node]))), -1)
        size[above[node]] += size[node]
    place, free = np.zeros(count + 1, dtype=np.int64), np.ones(count + 1, dtype=np.int64)
    for node in order[1:]:
        place[node] = free[above[node]]
        free[above[node]] += size[node]
        free[node] = place[node] + 1
    return _Tree(order, above, upward, place, size)


def _marks(tree: _Tree, first: Wholes, last: Wholes, pipes: int) -> Wholes:
    random = np.random.default_rng(_SEED)
    mark = random.integers(1, 2**62, pipes)
    hung = tree.upward[tree.upward >= 0]
    mark[hung] = 0
    passed = np.zeros(len(tree.above), dtype=np.int64)
    np.bitwise_xor.at(passed, first, mark)
    np.bitwise_xor.at(passed, last, mark)
    for node in tree.order[:0:-1]:
        if tree.upward[node] >= 0:
            mark[tree.upward[node]] = passed[node]
        passed[tree.above[node]] ^= passed[node]
    return mark


def _doubles(mark: Wholes, lower: Wholes, at_node: Reals) -> list[tuple[int, int]]:
    """Pairs of equal mark; of long rings a few pipes, spread evenly, stand for all."""
    ring = np.flatnonzero(mark != 0)
    ring = ring[np.argsort(mark[ring], kind="stable")]
    pairs: list[tuple[int, int]] = []
    for group in np.split(ring, np.flatnonzero(np.diff(mark[ring])) + 1):
        if len(group) < 2:
            continue
        held = np.where(lower[group] >= 0, at_node[lower[group]], 0.0)
        group = group[np.argsort(held, kind="stable")]
        kept = np.unique(np.linspace(0, len(group) - 1, _OF_A_RING).round().astype(int))
        pairs += combinations(group[kept].tolist(), 2)
    return pairs


def _side(pipes: tuple[int, ...], lower: Wholes, tree: _Tree, at_node: Reals) -> float:
    """Weight of the far side, that of the cut pipes not yet taken out."""
    nodes = [int(lower[i]) for i in pipes if lower[i] >= 0]
    if len(nodes) == 1:
        return float(at_node[nodes[0]])
    upper, under = sorted(nodes, key=lambda n: -tree.size[n])
    nested = 0 <= tree.place[under] - tree.place[upper] < tree.size[upper]
    return float(at_node[upper] - at_node[under] if nested else at_node[upper] + at_node[under])


def _cut(pipes: tuple[int, ...], first: Wholes, last: Wholes, lower: Wholes, tree: _Tree) -> Cut:
    inside = np.zeros(len(tree.above), dtype=bool)
    for i in pipes:
        if lower[i] >= 0:
            inside ^= tree.below(int(lower[i]))
    beyond = inside[first] & inside[last]
    beyond[list(pipes)] = False
    return Cut(pipes, beyond)
