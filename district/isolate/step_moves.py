"""A parting made better, segment by segment: those at a border go over to the part beside them."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from scipy.sparse import csr_array
from scipy.sparse.csgraph import connected_components

from district.hydraulics.model import Wholes
from district.isolate.step_cost import Weighing, cost_m
from district.isolate.step_trees import Parting, step_cost_m, valve_cost_m
from district.isolate.step_zone import ZoneSegments

_MOST = 400
"""Moves before it is left as it is; each makes it better, so that it would end anyway."""


def improved(
    zone: ZoneSegments, weighing: Weighing, parting: Parting, *, most_extra_count: int
) -> Parting:
    """The parting after the best move of one segment at a time, until none is left that helps.

    A move keeps every part in one piece and none empty, leaves what must stay fed in part 0, and
    needs no more gates than allowed.
    """
    best = parting
    for _ in range(_MOST):
        again = _one_move(zone, weighing, best, most_extra_count)
        if again is None:
            return best
        best = again
    return best


def _one_move(
    zone: ZoneSegments, weighing: Weighing, parting: Parting, most_extra_count: int
) -> Parting | None:
    part, x = parting.part, weighing.features
    count = int(part.max()) + 1
    border = part[zone.first] != part[zone.second]
    pairs = np.concatenate(
        [
            np.column_stack([zone.first[border], part[zone.second[border]]]),
            np.column_stack([zone.second[border], part[zone.first[border]]]),
        ]
    )
    pairs = np.unique(pairs, axis=0)
    segment, to = pairs[~zone.kept[pairs[:, 0]]].T
    if not len(segment):
        return None
    parts = np.zeros((count, x.shape[1]))
    np.add.at(parts, part, x)
    costs = cost_m(weighing, parts)
    was = part[segment]
    gained = cost_m(weighing, parts[to] + x[segment]) + cost_m(weighing, parts[was] - x[segment])
    gates = parting.gates_count + _more_gates(zone, part, segment, to)
    total = costs.sum() - costs[to] - costs[was] + gained
    total += valve_cost_m(weighing) * (gates - (count - 1)) + step_cost_m(weighing) * (count - 1)
    able = (total < parting.cost_m - 1e-6) & (gates - (count - 1) <= most_extra_count)
    for row in np.flatnonzero(able)[np.argsort(total[able], kind="stable")]:
        if _in_one_piece(zone, part, int(segment[row])):
            moved = part.copy()
            moved[segment[row]] = to[row]
            return replace(
                parting, part=moved, cost_m=float(total[row]), gates_count=int(gates[row])
            )
    return None


def _more_gates(zone: ZoneSegments, part: Wholes, segment: Wholes, to: Wholes) -> Wholes:
    """How many gates more join different parts once each segment has moved."""
    at_first = zone.first[None, :] == segment[:, None]
    at_second = zone.second[None, :] == segment[:, None]
    beside = np.where(at_first, part[zone.second], part[zone.first])
    touched = at_first | at_second
    before = touched & (beside != part[segment][:, None])
    after = touched & (beside != to[:, None])
    return np.asarray(after.sum(axis=1) - before.sum(axis=1))


def _in_one_piece(zone: ZoneSegments, part: Wholes, segment: int) -> bool:
    """Whether the part of a segment is left, and hangs together, without it."""
    own = part == part[segment]
    own[segment] = False
    if not own.any():
        return False
    on = own[zone.first] & own[zone.second]
    links = csr_array(
        (np.ones(int(on.sum())), (zone.first[on], zone.second[on])),
        shape=(len(part), len(part)),
    )
    label = connected_components(links, directed=False)[1]
    return len(np.unique(label[own])) == 1
