"""How a leak's effect on the loggers departs from the slope: head lost grows faster than flow."""

from __future__ import annotations

import numpy as np
from scipy.sparse import csr_array

from district.hydraulics import Model, Pattern, State, head_sensitivity
from district.hydraulics.head_loss import Losses, head_lost, losses_of
from district.hydraulics.model import Kind, Reals, Wholes

_CHUNK = 500
_FELT_SHARE = 0.005
"""Share of a leak's flow below which it is not asked how a pipe that carries it bends."""


def bent_m(
    model: Model,
    state: State,
    at_loggers: Reals,
    points: Wholes,
    *,
    flow_l_s: Reals,
    half_l_s: Reals,
    pattern: Pattern,
) -> Reals:
    """Change of head (G, P) that a leak at each point makes beyond the slopes.

    Parameters
    ----------
    state
        with half of the leak, which is `half_l_s` (N), drawn in it.
    at_loggers (G, N)
        sensitivity of the loggers in that state.
    points (P)
        nodes.
    flow_l_s (P)
        of a leak at each.

    Flows change by the slopes; what each pipe then loses beyond its slope, before the leak and with
    it, moves the loggers as a pump in that pipe would. Exact in a branch, second order in a loop.
    """
    losses = losses_of(model)
    at = head_lost(losses, state.flow_l_s)
    moves = (model.kind == Kind.PIPE) & model.is_open & (at.slope > 0)
    conductance = np.where(moves, 1 / np.where(at.slope > 0, at.slope, 1.0), 0.0)
    lift = (at_loggers[:, model.start] - at_loggers[:, model.end]) * conductance

    middle = csr_array(half_l_s[None])

    def carried(watch: csr_array) -> Reals:
        heads = head_sensitivity(model, state, watch, pattern=pattern)
        return np.asarray((heads[:, model.start] - heads[:, model.end]) * conductance)

    def beyond(change_l_s: Reals, link: Wholes) -> Reals:
        lost = head_lost(Losses(*(v[link] for v in losses)), state.flow_l_s[link] + change_l_s)
        return np.asarray(lost.head_m - at.head_m[link] - at.slope[link] * change_l_s)

    half = carried(middle)[0]
    without = beyond(-half, np.arange(len(half)))
    done = np.empty((len(at_loggers), len(points)))
    for i in range(0, len(points), _CHUNK):
        own = points[i : i + _CHUNK]
        chosen = csr_array(
            (np.ones(len(own)), (np.arange(len(own)), own)),
            shape=(len(own), len(model.node_id)),
        )
        unit = carried(chosen)
        row, link = np.nonzero(np.abs(unit) > _FELT_SHARE)
        change = unit[row, link] * flow_l_s[i + row]
        bend = beyond(change - half[link], link) - without[link]
        bends = csr_array((bend, (row, link)), shape=unit.shape)
        done[:, i : i + _CHUNK] = -(bends @ lift.T).T
    return done
