"""What a leak as large as the flow about it does to the loggers: states with the leak by places."""

from __future__ import annotations

import numpy as np
from scipy.sparse import coo_array
from scipy.sparse.csgraph import dijkstra

from district.hydraulics import Model, Pattern, State, head_sensitivity, solve
from district.hydraulics.head_loss import head_lost, losses_of
from district.hydraulics.model import Kind, Reals, Wholes
from district.hydraulics.water import Drawn
from district.locate.pressure_curve import bent_m

MOST_PLACES = 24
"""Places at which a leak is solved for; points near one go by the slopes found there."""
_LEAST = 1e-9


def effect_m(
    drawn: Drawn,
    states: list[State],
    sensitivity: Reals,
    without_l_s: Reals,
    points: Wholes,
    *,
    flow_l_s: Reals,
    pattern: Pattern,
) -> Reals:
    """Change of head (B, G, P) that a leak at each of P points makes.

    Parameters
    ----------
    states, sensitivity (B, G, N)
        of each block of the day with about half of the leak somewhere.
    without_l_s (B, N)
        what is drawn without the leak.
    flow_l_s (B, P)
        of a leak at each point.

    A leak larger than the flow about it turns flows round and shares itself otherwise between the
    sides of a loop than slopes say. So states are solved with half of it at a few places, more
    where it is larger beside what is drawn; each point takes the slopes of the place nearest to it
    by the head a leak loses on the way as the loggers feel it, and bends from there.
    """
    model, watch = drawn.model, drawn.watch
    size = float(flow_l_s.max())
    usual = float(np.abs(without_l_s).sum(axis=1).min())
    count = max(1, round(MOST_PLACES * min(1.0, 2 * size / max(size + usual, _LEAST))))
    centre, member = places(model, states[0], sensitivity[0], points, size, count)
    done = np.empty((len(states), watch.shape[0], len(points)))
    for b, state in enumerate(states):
        for c, node in enumerate(centre):
            own = np.flatnonzero(member == c)
            there = np.zeros(len(model.node_id))
            there[node] = 1.0
            half = flow_l_s[b, own].mean() / 2
            at = solve(model, without_l_s[b] + half * there, start=state, pattern=pattern)
            slope = head_sensitivity(model, at, watch, pattern=pattern)
            flow = flow_l_s[b, own]
            done[b][:, own] = slope[:, points[own]] * flow + bent_m(
                model, at, slope, points[own],
                flow_l_s=flow, half_l_s=half * there, pattern=pattern,
            )  # fmt: skip
    return done


def places(
    model: Model, state: State, at_loggers: Reals, points: Wholes, flow_l_s: float, count: int
) -> tuple[Wholes, Wholes]:
    """Up to `count` of the points (nodes) that are far from each other, and the nearest of them to
    each point, a position among them.

    Parameters: `at_loggers` (G, N) sensitivity of the loggers in `state`. Two points are as far as
    the head that `flow_l_s` loses between them, on pipes that share in the loggers' own flow.
    """
    losses = losses_of(model)
    slope = head_lost(losses, state.flow_l_s).slope
    way = (model.kind == Kind.PIPE) & model.is_open & (slope > 0)
    felt = np.abs(at_loggers[:, model.start] - at_loggers[:, model.end]).max(axis=0)
    felt = np.minimum(felt / np.where(way, slope, 1.0), 1.0)
    lost = np.abs(head_lost(losses, np.full(len(slope), flow_l_s)).head_m) * felt + _LEAST
    nodes = len(model.node_id)
    lost, start, end = lost[way], model.start[way], model.end[way]
    # Of two pipes side by side the easier one counts.
    order = np.lexsort((lost, np.maximum(start, end), np.minimum(start, end)))
    pair = np.column_stack([np.minimum(start, end), np.maximum(start, end)])[order]
    first = np.unique(pair, axis=0, return_index=True)[1]
    graph = coo_array((lost[order][first], pair[first].T), shape=(nodes, nodes)).tocsr()
    centre = [int(points[0])]
    nearest = _distance(graph, centre[0])[points]
    member = np.zeros(len(points), dtype=np.int64)
    while len(centre) < min(count, len(points)) and nearest.max() > _LEAST * nodes:
        further = int(points[np.argmax(nearest)])
        distance = _distance(graph, further)[points]
        closer = distance < nearest
        member[closer] = len(centre)
        nearest = np.minimum(distance, nearest)
        centre.append(further)
    return np.array(centre), member


def _distance(graph: object, node: int) -> Reals:
    far = dijkstra(graph, directed=False, indices=node)
    return np.asarray(np.where(np.isfinite(far), far, 1e9))
