"""The sections of a step test: the parting of a zone that leaves least to listen to."""

from __future__ import annotations

from dataclasses import dataclass

from district.isolate.step_cost import Weighing
from district.isolate.step_exact import best_of_tree
from district.isolate.step_moves import improved
from district.isolate.step_trees import Parting, best_cuts, is_tree, trees_of, whole
from district.isolate.step_zone import ZoneSegments

_IMPROVED = 4
"""Partings of each tree that are made better segment by segment."""


@dataclass(frozen=True, eq=False)
class Split:
    """A parting, and whether no other of so many steps is better."""

    parting: Parting
    proven: bool


def split(
    zone: ZoneSegments, weighing: Weighing, *, steps_count: int, most_extra_count: int
) -> Split:
    """Part a zone into what stays open and up to `steps_count` sections.

    Every section hangs together, and what is left of the zone without some of them does as well,
    since any section can be the last on a way. Without loops the best is found for certain
    (`step_exact`); with loops the cuts of several trees are sought through and made better by
    moves of single segments. `most_extra_count`: gates that may be shut beside one a section.
    """
    most = {"most_extra_count": most_extra_count}
    found = [whole(zone, weighing)]
    trees = trees_of(zone)
    for tree in trees:
        cuts = best_cuts(zone, weighing, tree, steps_count=steps_count, **most)
        found += cuts[:_IMPROVED]
        if not is_tree(zone):
            found += [improved(zone, weighing, one, **most) for one in cuts[:_IMPROVED]]
    best = min(found, key=lambda p: p.cost_m)
    if not is_tree(zone):
        return Split(best, proven=False)
    return Split(*best_of_tree(zone, weighing, trees[0], best, steps_count=steps_count))
