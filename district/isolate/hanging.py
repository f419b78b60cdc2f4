"""What hangs behind every segment and every pair of neighbours, from one walk over the graph.

A depth-first walk from the supply has no link from branch to branch: each link joins a segment to
one it hangs from. So what a segment cuts off is those branches of it from which no link leads
above it (Hopcroft & Tarjan 1973, Communications of the ACM 16(6) 372-378, from memory: articulation
points by low points), and for a segment and one above it that it is linked to, three kinds of
pieces are left: branches of the lower one, branches of the upper one, and what lies between.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.sparse import csr_array

from district.hydraulics.model import Flags, Reals, Wholes
from district.isolate.graph import SegmentGraph

_AT_ONCE = 1_000_000
"""Branches compared with pairs at a time, so that memory stays small."""


@dataclass(frozen=True, eq=False)
class Hanging:
    """The walk over the R fed segments and the supply: places 0 (the supply) to R in its order.

    place (S)
        of each segment; -1 where no water reaches it.
    above (R + 1)
        place each one hangs from; 0 for the supply.
    after (R + 1)
        one past the last place of its branch: a branch is one run of places.
    own (R + 1)
        the first place that its own links lead to.
    low (R + 1)
        the first place that links of its whole branch lead to.
    high (R + 1)
        the last place, before the one it hangs from, that links of its branch lead to; -1 if none.
    """

    place: Wholes
    above: Wholes
    after: Wholes
    own: Wholes
    low: Wholes
    high: Wholes


@dataclass(frozen=True, eq=False)
class Pairs:
    """Gates (H) between two fed segments, by place: the lower one hangs below the upper one."""

    gate: Wholes
    upper: Wholes
    lower: Wholes

    def branch_toward(self, hanging: Hanging) -> Wholes:
        """The branch (H) of each upper one in which the lower one hangs."""
        order = _children(hanging)[1]
        count = len(hanging.above)
        key = hanging.above[order] * count + order
        at = np.searchsorted(key, self.upper * count + self.lower, side="right") - 1
        return np.asarray(order[at] if len(at) else at)


def hanging_of(graph: SegmentGraph) -> Hanging:
    """Walk the segments from the supply over open gates, and say what hangs from what."""
    count = graph.segments_count
    inside = np.flatnonzero(graph.fed_inside)
    first = np.concatenate([graph.gate_first[graph.gate_open], np.full(len(inside), count)])
    second = np.concatenate([graph.gate_second[graph.gate_open], inside])
    order, came_from = _walk(first, second, count)
    place = np.full(count + 1, -1, dtype=np.int64)
    place[order] = np.arange(len(order))
    above = np.maximum(place[came_from[order]], 0)
    above[0] = 0
    size = np.ones(len(order), dtype=np.int64)
    for at in range(len(order) - 1, 0, -1):
        size[above[at]] += size[at]
    ends = np.column_stack([place[first], place[second]])
    ends = np.sort(ends[(ends >= 0).all(axis=1)], axis=1)
    ends = ends[ends[:, 0] < ends[:, 1]]
    own = np.arange(len(order))
    np.minimum.at(own, ends[:, 1], ends[:, 0])
    low = own.copy()
    for at in range(len(order) - 1, 0, -1):
        low[above[at]] = min(low[above[at]], low[at])
    return Hanging(
        place=place[:count],
        above=above,
        after=np.arange(len(order)) + size,
        own=own,
        low=low,
        high=_high(ends, above),
    )


def pairs_of(graph: SegmentGraph, hanging: Hanging) -> Pairs:
    """The open gates between two different fed segments."""
    place = np.append(hanging.place, 0)
    ends = np.column_stack([place[graph.gate_first], place[graph.gate_second]])
    gate = np.flatnonzero(graph.gate_open & (ends > 0).all(axis=1) & (ends[:, 0] != ends[:, 1]))
    ends = np.sort(ends[gate], axis=1)
    return Pairs(gate, ends[:, 0], ends[:, 1])


def branch_sums(hanging: Hanging, weight: Reals) -> Reals:
    """Sum of `weight` (R + 1, K, by place) over each branch."""
    total = np.concatenate([np.zeros((1, weight.shape[1])), np.cumsum(weight, axis=0)])
    return np.asarray(total[hanging.after] - total[: len(hanging.after)])


def cut_off(hanging: Hanging) -> Flags:
    """Whether the branch at each place (R + 1) is dry once the one it hangs from is shut off."""
    dry = hanging.low >= hanging.above
    dry[0] = False
    return np.asarray(dry & (hanging.above > 0))


def dry_alone(hanging: Hanging, weight: Reals) -> Reals:
    """What is dry (R + 1, K) once each one is shut off, itself included; for the supply, all."""
    dry = weight.copy()
    lost = np.flatnonzero(cut_off(hanging))
    np.add.at(dry, hanging.above[lost], branch_sums(hanging, weight)[lost])
    return dry


def dry_together(hanging: Hanging, pairs: Pairs, weight: Reals) -> Reals:
    """What is dry (H, K) once both segments of each pair are shut off, themselves included."""
    branch = branch_sums(hanging, weight)
    upper, lower = pairs.upper, pairs.lower
    toward = pairs.branch_toward(hanging)
    dry = dry_alone(hanging, weight)[upper] + weight[lower]
    # Counted with the upper one: its branch in which the lower one hangs is looked at anew.
    alone = cut_off(hanging)[toward]
    dry[alone] -= branch[toward[alone]]
    middle_fed = _least_own_between(hanging, toward, lower) < upper
    first_child, children = _children(hanging)
    counts = np.diff(first_child)[lower]
    for part in _in_parts(counts):
        pair = np.repeat(part, counts[part])
        number = np.arange(len(pair)) - np.repeat(
            np.cumsum(counts[part]) - counts[part], counts[part]
        )
        child = children[first_child[lower[pair]] + number]
        feeds_itself = hanging.low[child] < upper[pair]
        joined = hanging.high[child] > upper[pair]
        np.logical_or.at(middle_fed, pair[feeds_itself & joined], True)
        lost = ~(feeds_itself | (joined & middle_fed[pair]))
        np.add.at(dry, pair[lost], branch[child[lost]])
    between = branch[toward] - branch[lower]
    dry[~middle_fed] += between[~middle_fed]
    return dry


def _walk(first: Wholes, second: Wholes, root: int) -> tuple[Wholes, Wholes]:
    """Order of a depth-first walk from `root`, and what each was reached from."""
    size = root + 1
    ones = np.ones(2 * len(first))
    links = csr_array(
        (ones, (np.concatenate([first, second]), np.concatenate([second, first]))),
        shape=(size, size),
    )
    begin, beside = links.indptr.tolist(), links.indices.tolist()
    came_from = [-1] * size
    came_from[root] = root
    order, path = [root], [root]
    upto = begin[:-1]
    while path:
        at = path[-1]
        if upto[at] == begin[at + 1]:
            path.pop()
            continue
        following = beside[upto[at]]
        upto[at] += 1
        if came_from[following] < 0:
            came_from[following] = at
            order.append(following)
            path.append(following)
    return np.array(order, dtype=np.int64), np.array(came_from, dtype=np.int64)


def _high(ends: Wholes, above: Wholes) -> Wholes:
    """See `Hanging.high`. Links from the last upper end to the first: each place up from the lower
    end that has none yet takes it, and is passed over from then on."""
    high = [-1] * len(above)
    over = list(range(len(above)))
    parent = above.tolist()
    order = np.argsort(-ends[:, 0], kind="stable")
    for upper, lower in ends[order].tolist():
        at = lower
        passed = []
        while True:
            while over[at] != at:
                passed.append(at)
                at = over[at]
            if parent[at] <= upper:
                break
            high[at] = upper
            over[at] = parent[at]
        for each in passed:
            over[each] = at
    return np.array(high, dtype=np.int64)


def _children(hanging: Hanging) -> tuple[Wholes, Wholes]:
    """All places sorted by what they hang from, and where each one's begin among them."""
    below = np.arange(1, len(hanging.above))
    order = below[np.argsort(hanging.above[1:], kind="stable")]
    begin = np.searchsorted(hanging.above[order], np.arange(len(hanging.above) + 1))
    return begin, order


def _least_own_between(hanging: Hanging, toward: Wholes, lower: Wholes) -> Wholes:
    """The first place that links of the branch `toward`, less that of `lower`, lead to."""
    count = len(hanging.own)
    levels = [hanging.own]
    while 2 ** len(levels) <= count:
        half = 2 ** (len(levels) - 1)
        levels.append(np.minimum(levels[-1][:-half], levels[-1][half:]))
    before = _least(levels, toward, lower, count)
    behind = _least(levels, hanging.after[lower], hanging.after[toward], count)
    return np.minimum(before, behind)


def _least(levels: list[Wholes], begin: Wholes, end: Wholes, nothing: int) -> Wholes:
    """Minimum over places begin to end - 1, `nothing` where there are none."""
    length = end - begin
    least = np.full(len(begin), nothing, dtype=np.int64)
    for k, level in enumerate(levels):
        here = np.flatnonzero((length >= 2**k) & (length < 2 ** (k + 1)))
        least[here] = np.minimum(level[begin[here]], level[end[here] - 2**k])
    return least


def _in_parts(counts: Wholes) -> list[Wholes]:
    """Numbers of the counts that are not 0, in groups that add up to about `_AT_ONCE`."""
    some = np.flatnonzero(counts > 0)
    group = np.cumsum(counts[some]) // _AT_ONCE
    return np.split(some, np.flatnonzero(np.diff(group)) + 1) if len(some) else []
