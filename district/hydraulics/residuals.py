"""What flows and heads miss of being in balance, and how that changes with them."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from district.hydraulics.assembly import Pattern
from district.hydraulics.head_loss import LEAST_SLOPE, Losses, head_lost, losses_of
from district.hydraulics.leakage import delivered, leaked
from district.hydraulics.model import Flags, Model, Openings, Reals, Service, Wholes
from district.hydraulics.reach import reached_nodes
from district.hydraulics.valves import Doing, held_head_m, upstream_m

_SEEP_SLOPE = 1e6
"""m of head per L/s of what seeps through a stopped valve."""


class Scene(NamedTuple):
    """What stays the same while a balance is sought; by node (N) and link (L)."""

    model: Model
    pattern: Pattern
    losses: Losses
    demand_l_s: Reals
    """Nothing where water cannot get to."""
    openings: Openings | None
    service: Service | None
    reached: Flags
    sought: Flags
    """Junctions that are reached."""
    alive: Flags
    """Links that are open between two nodes that are reached."""


class Residuals(NamedTuple):
    """Residuals by link (L) and node (N), and the slopes of flows and outflows there."""

    energy_m: Reals
    mass_l_s: Reals
    conductance: Reals
    """L/s per m between the ends; 0 where nothing passes."""
    forward: Reals
    """The same for the head at the start alone: 0 where a valve holds its end."""
    outflow_slope: Reals
    """L/s per m; 1 where no head is sought."""
    delivered_l_s: Reals
    leakage_l_s: Reals


def scene_of(
    model: Model,
    demand_l_s: Reals,
    openings: Openings | None,
    service: Service | None,
    pattern: Pattern,
) -> Scene:
    """The scene of a model; what no open way reaches is left out."""
    reached = reached_nodes(model, model.is_open)
    alive = model.is_open & reached[model.start] & reached[model.end]
    return Scene(
        model,
        pattern,
        losses_of(model),
        np.where(reached, demand_l_s, 0.0),
        openings,
        service,
        reached,
        reached & np.isnan(model.fixed_head_m),
        alive & (model.start != model.end),
    )


def residuals(scene: Scene, doing: Wholes, flow_l_s: Reals, head_m: Reals) -> Residuals:
    """Residuals and slopes at flows (L) and heads (N), with links `doing` what `Doing` says."""
    model = scene.model
    lost = head_lost(scene.losses, flow_l_s)
    energy = lost.head_m - head_m[model.start] + head_m[model.end]
    slope = lost.slope
    unusual = np.flatnonzero((doing == Doing.HOLDING) | (doing == Doing.SEEPING))
    tied = np.ones(doing.size, dtype=bool)
    if unusual.size:
        most = upstream_m(model, scene.losses, head_m)[unusual]
        seeps = doing[unusual] == Doing.SEEPING
        # A valve that holds its setting loses whatever it must: the slope only steadies the step.
        slope[unusual] = np.where(seeps, _SEEP_SLOPE, LEAST_SLOPE)
        energy[unusual] = head_m[model.end[unusual]] - np.where(
            seeps, most - _SEEP_SLOPE * flow_l_s[unusual], held_head_m(model)[unusual]
        )
        tied[unusual] = seeps & (most == head_m[model.start[unusual]])
    runs = (doing != Doing.DEAD) & (doing != Doing.STOPPED)
    conductance = np.where(runs, 1.0 / slope, 0.0)

    pressure = head_m - model.elevation_m
    served, outflow_slope = scene.demand_l_s, np.zeros(head_m.size)
    if scene.service is not None:
        served, outflow_slope = delivered(scene.service, served, pressure)
    leakage = np.zeros(head_m.size)
    if scene.openings is not None:
        leakage, more = leaked(scene.openings, pressure)
        outflow_slope = outflow_slope + more
    mass = scene.pattern.meets @ flow_l_s - served - leakage
    return Residuals(
        np.where(runs, energy, 0.0),
        np.where(scene.sought, mass, 0.0),
        conductance,
        np.where(tied, conductance, 0.0),
        np.where(scene.sought, outflow_slope, 1.0),
        served,
        leakage,
    )
