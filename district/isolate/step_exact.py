"""The best parting of a zone without loops: every choice of cuts, by branch and bound."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from district.hydraulics.model import Reals, Wholes
from district.isolate.step_cost import Weighing, cost_m
from district.isolate.step_trees import Parting, Tree, cuttable, step_cost_m
from district.isolate.step_zone import ZoneSegments

MOST_CHOICES = 60_000
"""Choices of cuts held at one segment; of zones with more the answer is not proven."""
_NEAR = 1e-9


@dataclass(frozen=True, eq=False)
class _Choices:
    """M ways to cut what hangs on a segment: what is not cut off of it (M, F), what the parts cut
    off cost (M), and where the cuts are (M, c)."""

    left: Reals
    cost_m: Reals
    cuts: Wholes


def best_of_tree(
    zone: ZoneSegments, weighing: Weighing, tree: Tree, known: Parting, *, steps_count: int
) -> tuple[Parting, bool]:
    """The parting by up to so many cuts that costs least, and whether that is proven.

    From the ends towards segment 0 all choices of cuts are put together. What is not yet cut off
    costs at least what it would cost as a section, and more of it costs never less; so a choice
    that cannot beat the `known` parting any more is dropped. The best one is among the rest.
    """
    may = set(cuttable(zone, tree).tolist())
    count = zone.count()
    held: list[dict[int, _Choices] | None] = [None] * count
    for v in tree.order[::-1].tolist():
        own = weighing.features[v]
        here = {0: _Choices(own[None], np.zeros(1), np.zeros((1, 0), dtype=np.int64))}
        for child in np.flatnonzero(tree.parent == v).tolist():
            below, held[child] = held[child], None
            assert below is not None
            here = _together(here, below, weighing, known.cost_m, steps_count)
            if sum(len(c.cost_m) for c in here.values()) > MOST_CHOICES:
                return known, False
        held[v] = _with_cut(here, v, weighing, known.cost_m, steps_count) if v in may else here
    top = held[int(tree.order[0])]
    assert top is not None
    best = known
    for choices in top.values():
        total = choices.cost_m + cost_m(weighing, choices.left)
        if not len(total):
            continue
        row = int(np.argmin(total))
        if total[row] < best.cost_m - _NEAR:
            best = _parting(tree, choices.cuts[row], float(total[row]))
    return best, True


def _together(
    one: dict[int, _Choices],
    other: dict[int, _Choices],
    weighing: Weighing,
    most_m: float,
    steps_count: int,
) -> dict[int, _Choices]:
    found: dict[int, list[_Choices]] = {}
    for c, mine in one.items():
        for d, theirs in other.items():
            if c + d > steps_count or len(mine.cost_m) * len(theirs.cost_m) > 50 * MOST_CHOICES:
                continue
            a = np.repeat(np.arange(len(mine.cost_m)), len(theirs.cost_m))
            b = np.tile(np.arange(len(theirs.cost_m)), len(mine.cost_m))
            found.setdefault(c + d, []).append(
                _bounded(
                    _Choices(
                        mine.left[a] + theirs.left[b],
                        mine.cost_m[a] + theirs.cost_m[b],
                        np.hstack([mine.cuts[a], theirs.cuts[b]]),
                    ),
                    weighing,
                    most_m,
                )
            )
    return {cuts: _joined(some) for cuts, some in found.items()}


def _with_cut(
    here: dict[int, _Choices], v: int, weighing: Weighing, most_m: float, steps_count: int
) -> dict[int, _Choices]:
    """The same with the way into segment v cut as well, or not."""
    found: dict[int, list[_Choices]] = {c: [some] for c, some in here.items()}
    for c, some in here.items():
        if c == steps_count:
            continue
        at = np.full((len(some.cost_m), 1), v)
        cut = _Choices(
            np.zeros_like(some.left),
            some.cost_m + cost_m(weighing, some.left) + step_cost_m(weighing),
            np.hstack([some.cuts, at]),
        )
        found.setdefault(c + 1, []).append(_bounded(cut, weighing, most_m))
    return {cuts: _joined(some) for cuts, some in found.items()}


def _bounded(some: _Choices, weighing: Weighing, most_m: float) -> _Choices:
    on = some.cost_m + cost_m(weighing, some.left) <= most_m + _NEAR
    return _Choices(some.left[on], some.cost_m[on], some.cuts[on])


def _joined(some: list[_Choices]) -> _Choices:
    return _Choices(
        np.concatenate([s.left for s in some]),
        np.concatenate([s.cost_m for s in some]),
        np.concatenate([s.cuts for s in some]),
    )


def _parting(tree: Tree, cuts: Wholes, cost: float) -> Parting:
    part = np.zeros(len(tree.parent), dtype=np.int64)
    number = {int(v): n for n, v in enumerate(cuts, start=1)}
    for v in tree.order[1:].tolist():
        part[v] = number.get(v, part[tree.parent[v]])
    return Parting(part, cost, len(cuts))
