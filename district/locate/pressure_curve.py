"""How a leak's effect on the loggers departs from the slope: head lost grows faster than flow."""

from __future__ import annotations

import numpy as np
from scipy.sparse import csr_array

from district.hydraulics import Model, Pattern, State, head_sensitivity
from district.hydraulics.head_loss import head_lost, losses_of
from district.hydraulics.model import Kind, Reals, Wholes

_CHUNK = 500


def bent_m(
    model: Model,
    state: State,
    at_loggers: Reals,
    points: Wholes,
    *,
    flow_l_s: Reals,
    likely_share: Reals,
    pattern: Pattern,
) -> Reals:
    """Change of head (G, P) that a leak at each point makes beyond the slopes.

    Parameters
    ----------
    state
        with half of the leak spread by `likely_share` (N).
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

    def beyond(change_l_s: Reals) -> Reals:
        lost = head_lost(losses, state.flow_l_s + change_l_s).head_m
        return np.asarray(np.where(moves, lost - at.head_m - at.slope * change_l_s, 0.0))

    chosen = csr_array(
        (np.ones(len(points)), (np.arange(len(points)), points)),
        shape=(len(points), len(model.node_id)),
    )
    done = np.empty((len(at_loggers), len(points)))
    weight = likely_share[points] / max(float(likely_share[points].sum()), 1e-300)
    spread = np.zeros(len(model.start))
    flows = []
    for i in range(0, len(points), _CHUNK):
        heads = head_sensitivity(model, state, chosen[i : i + _CHUNK], pattern=pattern)
        unit = (heads[:, model.start] - heads[:, model.end]) * conductance
        flows.append(unit)
        spread += (weight[i : i + _CHUNK] * flow_l_s[i : i + _CHUNK]) @ unit
    without = beyond(-spread / 2)
    for i, unit in zip(range(0, len(points), _CHUNK), flows, strict=True):
        with_leak = beyond(unit * flow_l_s[i : i + _CHUNK, None] - spread / 2)
        done[:, i : i + _CHUNK] = -lift @ (with_leak - without).T
    return done
