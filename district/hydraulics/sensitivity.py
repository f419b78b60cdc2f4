"""How heads move with what is drawn and with roughness: the adjoint of one balanced state."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from scipy.sparse import csr_array

from district.hydraulics.assembly import Pattern, pattern_of
from district.hydraulics.head_loss import head_lost
from district.hydraulics.leakage import delivered_share
from district.hydraulics.model import Model, Openings, Reals, Service, State
from district.hydraulics.outlets import at_heads
from district.hydraulics.residuals import Guess, factors_at, residuals, scene_of
from district.hydraulics.valves import at_state


class Sensitivity(NamedTuple):
    """What moves the heads at G watched points.

    drawn (G, N): m for each L/s more drawn at a node; negative or 0.
    roughness (G, L): m for ln(roughness) of a link rising by 1.
    """

    drawn: Reals
    roughness: Reals


def sensitivity(
    model: Model,
    state: State,
    watch: csr_array,
    *,
    openings: Openings | None = None,
    service: Service | None = None,
    pattern: Pattern | None = None,
) -> Sensitivity:
    """Both sensitivities of a state that `solve` gave for the same model and outflows.

    One factorisation and one solve a watched point; pumps and valves go on doing what they do.
    `watch` (G, N): weights that make each watched head of the heads of nodes. Nodes that are not
    reached, and those whose head is fixed, move nothing.
    """
    chosen = pattern or pattern_of(model)
    head = np.where(state.reached, state.head_m, model.elevation_m)
    wanted = state.demand_l_s
    if service is not None:
        wanted = _wanted(service, wanted, head - model.elevation_m)
    scene = scene_of(model, wanted, openings, service, chosen)
    outflow, runs = at_heads(scene.outlets, head)
    doing = at_state(model, scene.losses, scene.alive, scene.sought, state.flow_l_s, head)
    at = residuals(scene, Guess(state.flow_l_s, head, outflow, doing, runs))
    adjoint = np.zeros((watch.shape[0], head.size))
    if chosen.size:
        free = np.flatnonzero(scene.sought)
        rows = chosen.place[free]
        weights = np.zeros((chosen.size, watch.shape[0]))
        weights[rows] = watch[:, free].toarray().T
        adjoint[:, free] = factors_at(scene, at).solve(weights, trans="T")[rows].T
    by_roughness = at.conductance * head_lost(scene.losses, state.flow_l_s).by_log_roughness
    along = adjoint[:, model.start] - adjoint[:, model.end]
    return Sensitivity(-adjoint, along * by_roughness)


def head_sensitivity(
    model: Model,
    state: State,
    watch: csr_array,
    *,
    openings: Openings | None = None,
    service: Service | None = None,
    pattern: Pattern | None = None,
) -> Reals:
    """m of head at each watched point for each L/s more drawn at each node, (G, N); see
    `sensitivity`."""
    return sensitivity(
        model, state, watch, openings=openings, service=service, pattern=pattern
    ).drawn


def roughness_sensitivity(
    model: Model,
    state: State,
    watch: csr_array,
    *,
    openings: Openings | None = None,
    service: Service | None = None,
    pattern: Pattern | None = None,
) -> Reals:
    """m of head at each watched point for ln(roughness) of each link rising by 1, (G, L); see
    `sensitivity`."""
    return sensitivity(
        model, state, watch, openings=openings, service=service, pattern=pattern
    ).roughness


def _wanted(service: Service, delivered_l_s: Reals, pressure_m: Reals) -> Reals:
    """The demand of which this is what was delivered; 0 where nothing was."""
    share = delivered_share(service, pressure_m)
    part = (delivered_l_s > 0) & (share > 0)
    return np.where(part, delivered_l_s / np.where(part, share, 1.0), delivered_l_s)
