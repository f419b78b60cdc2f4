"""Ways to part a zone by its valves, sought among the cuts of trees that reach all of it."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.sparse import csr_array
from scipy.sparse.csgraph import dijkstra

from district.hydraulics.model import Flags, Reals, Wholes
from district.isolate.step_cost import Weighing, cost_m, walk_m
from district.isolate.step_zone import ZoneSegments

WIDE = 24
"""Partings kept at each further cut."""
_DRAWN = 4
"""Pairs of trees drawn by chance beside those by distance, where the zone has loops."""
_VALVE_SHARE = 0.003
"""What one more valve to shut has to save of the walk, as a share of the whole zone's: each turned
costs a crew minutes and may fail. Assumption."""


_STEP_SHARE = 0.02
"""What one more step has to save of it: a quarter of an hour of the night, and people without water
for longer. Assumption."""


@dataclass(frozen=True, eq=False)
class Tree:
    """One way to reach every segment from segment 0.

    parent (n), -1 for segment 0
    order
        segments, each after its parent.
    under (n, n)
        whether the second hangs on the first, itself included.
    """

    parent: Wholes
    order: Wholes
    under: Flags


@dataclass(frozen=True, eq=False)
class Parting:
    """A zone in parts: the part of each segment (n), 0 with segment 0; what it costs (m), the
    valves and steps included; and how many gates join different parts."""

    part: Wholes
    cost_m: float
    gates_count: int

    def extra_count(self) -> int:
        """Gates to shut beside one for each part but 0."""
        return self.gates_count - int(self.part.max())


def is_tree(zone: ZoneSegments) -> bool:
    """Whether there is but one way to every segment."""
    return len(zone.gate) == zone.count() - 1


def trees_of(zone: ZoneSegments) -> list[Tree]:
    """The tree of shortest ways, and, where there are loops, others beside it, always the same.

    Half of the others leave the ways to what must stay fed as seldom as they can, so that much
    hangs on few valves.
    """
    rng = np.random.default_rng(1)
    size = (zone.length_m[zone.first] + zone.length_m[zone.second]) / 2 + 1.0
    trees = [_tree(zone, size)]
    if is_tree(zone):
        return trees
    on_way = np.asarray(trees[0].under[:, zone.kept].any(axis=1), dtype=bool)
    leaving = (on_way[zone.first] != on_way[zone.second]) * size.sum()
    for _ in range(_DRAWN):
        drawn = rng.exponential(size)
        trees += [_tree(zone, drawn), _tree(zone, drawn + leaving)]
    return [*trees, _tree(zone, np.ones(len(size))), _tree(zone, size + leaving)]


def _tree(zone: ZoneSegments, cost: Reals) -> Tree:
    count = zone.count()
    least: dict[tuple[int, int], float] = {}
    for a, b, c in zip(zone.first.tolist(), zone.second.tolist(), cost.tolist(), strict=True):
        pair = (min(a, b), max(a, b))
        least[pair] = min(c, least.get(pair, c))
    rows, columns = np.array(list(least)).T
    links = csr_array((list(least.values()), (rows, columns)), shape=(count, count))
    far, before = dijkstra(links, directed=False, indices=0, return_predecessors=True)
    order = np.argsort(far, kind="stable")
    parent = np.where(before < 0, -1, before).astype(np.int64)
    under = np.eye(count, dtype=bool)
    for v in order[:0:-1]:
        under[parent[v]] |= under[v]
    return Tree(parent, order, under)


def cuttable(zone: ZoneSegments, tree: Tree) -> Wholes:
    """Segments whose way in may be cut: nothing on them must stay fed."""
    return np.flatnonzero(~(tree.under & zone.kept).any(axis=1))


def whole(zone: ZoneSegments, weighing: Weighing) -> Parting:
    """The zone in one part."""
    total = weighing.features.sum(axis=0)
    return Parting(np.zeros(zone.count(), dtype=np.int64), float(cost_m(weighing, total)), 0)


def valve_cost_m(weighing: Weighing) -> float:
    """Metres of walk that one more valve has to save."""
    return _VALVE_SHARE * float(walk_m(weighing.features.sum(axis=0)))


def step_cost_m(weighing: Weighing) -> float:
    """Metres of walk that one more step has to save."""
    return _STEP_SHARE * float(walk_m(weighing.features.sum(axis=0)))


def best_cuts(
    zone: ZoneSegments, weighing: Weighing, tree: Tree, *, steps_count: int, most_extra_count: int
) -> list[Parting]:
    """The best partings by up to so many cuts of a tree, the best first, cut after cut.

    Of the partings by each number of cuts the `WIDE` best are cut again. Those that need more than
    `most_extra_count` gates beside one a part are left out.
    """
    may = cuttable(zone, tree)
    kept = [whole(zone, weighing)]
    found = list(kept)
    for _ in range(steps_count):
        following: dict[bytes, Parting] = {}
        for parting in kept:
            for more in _cut_once(zone, weighing, tree, parting, may, most_extra_count):
                # Which cut came first makes no other parting.
                following.setdefault(_shape(more.part), more)
        kept = sorted(following.values(), key=lambda p: p.cost_m)[:WIDE]
        found += kept
    return sorted(found, key=lambda p: p.cost_m)[:WIDE]


def _cut_once(
    zone: ZoneSegments,
    weighing: Weighing,
    tree: Tree,
    parting: Parting,
    may: Wholes,
    most_extra_count: int,
) -> list[Parting]:
    part, x = parting.part, weighing.features
    # What each cut takes out of the part it is made in.
    taken = tree.under[may] & (part[None, :] == part[may][:, None])
    out = taken @ x
    parts = np.zeros((int(part.max()) + 1, x.shape[1]))
    np.add.at(parts, part, x)
    costs = cost_m(weighing, parts)
    left = parts[part[may]] - out
    extra = taken[:, zone.first] ^ taken[:, zone.second]
    gates = parting.gates_count + (extra & (part[zone.first] == part[zone.second])[None, :]).sum(
        axis=1
    )
    valves = valve_cost_m(weighing) * (gates - len(parts)) + step_cost_m(weighing) * len(parts)
    total = costs.sum() - costs[part[may]] + cost_m(weighing, out) + cost_m(weighing, left)
    able = gates - len(parts) <= most_extra_count
    # A cut at the top of its own part would leave that part empty.
    able &= (part[may] == 0) | (part[tree.parent[may]] == part[may])
    order = np.flatnonzero(able)
    order = order[np.argsort((total + valves)[order], kind="stable")][:WIDE]
    made = []
    for row in order:
        again = part.copy()
        again[taken[row]] = len(parts)
        made.append(Parting(again, float((total + valves)[row]), int(gates[row])))
    return made


def _shape(part: Wholes) -> bytes:
    """The same for partings that differ in their numbers alone."""
    _, first, again = np.unique(part, return_index=True, return_inverse=True)
    return bytes(np.argsort(np.argsort(first))[again].astype(np.int32).tobytes())
