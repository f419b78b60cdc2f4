"""What flows and heads miss of being in balance, and how that changes with them."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from scipy.sparse.linalg import SuperLU

from district.hydraulics.assembly import Pattern, factored
from district.hydraulics.head_loss import LEAST_SLOPE, Losses, head_lost, losses_of
from district.hydraulics.model import Flags, Model, Openings, Reals, Service, Wholes
from district.hydraulics.outlets import Outlets, Runs, head_needed, outlets_of
from district.hydraulics.reach import reached_nodes
from district.hydraulics.valves import Doing, held_head_m, upstream_m

_SEEP_SLOPE = 1e6
"""m of head per L/s of what seeps through a stopped valve."""


class Scene(NamedTuple):
    """What stays the same while a balance is sought; by node (N), link (L) and outlet (K)."""

    model: Model
    pattern: Pattern
    losses: Losses
    outlets: Outlets
    given_l_s: Reals
    """What leaves each node (N) whatever its pressure."""
    reached: Flags
    sought: Flags
    """Junctions that are reached."""
    alive: Flags
    """Links that are open between two nodes that are reached."""


class Guess(NamedTuple):
    """Where a search stands: flows of links (L), heads (N), flows of outlets (K), and what links
    and outlets do (`Doing`, `Runs`)."""

    flow_l_s: Reals
    head_m: Reals
    outflow_l_s: Reals
    doing: Wholes
    runs: Wholes


class Residuals(NamedTuple):
    """What a guess misses by link (L), node (N) and outlet (K), and its slopes."""

    energy_m: Reals
    mass_l_s: Reals
    outlet_m: Reals
    conductance: Reals
    """L/s per m between a link's ends; 0 where nothing passes."""
    forward: Reals
    """The same for the head at the start alone: 0 where a valve holds its end."""
    outlet_conductance: Reals

    def largest_m(self) -> float:
        """The largest by which a head misses."""
        return float(max(np.abs(e).max(initial=0.0) for e in (self.energy_m, self.outlet_m)))

    def largest_l_s(self) -> float:
        """The largest by which a node's flows miss."""
        return float(np.abs(self.mass_l_s).max(initial=0.0))


def scene_of(
    model: Model,
    demand_l_s: Reals,
    openings: Openings | None,
    service: Service | None,
    pattern: Pattern,
) -> Scene:
    """The scene of a model; what no open way reaches is left out.

    Raises `ValueError` where the pattern is of other links or fixed heads.
    """
    free = np.isnan(model.fixed_head_m)
    if pattern.meets.shape[1] != model.link_id.size or ((pattern.place >= 0) != free).any():
        raise ValueError("pattern: expected that of a model of the same links and fixed heads")
    reached = reached_nodes(model, model.is_open)
    alive = model.is_open & reached[model.start] & reached[model.end]
    sought = reached & free
    by_pressure = np.zeros(sought.size, dtype=bool) if service is None else demand_l_s > 0
    return Scene(
        model,
        pattern,
        losses_of(model),
        outlets_of(model, demand_l_s, openings, service, reached),
        np.where(reached & ~by_pressure, demand_l_s, 0.0),
        reached,
        sought,
        alive & (model.start != model.end),
    )


def residuals(scene: Scene, guess: Guess) -> Residuals:
    """What a guess misses, and the slopes there."""
    model, outlets = scene.model, scene.outlets
    flow, head, doing = guess.flow_l_s, guess.head_m, guess.doing
    lost = head_lost(scene.losses, flow)
    energy = lost.head_m - head[model.start] + head[model.end]
    slope = lost.slope
    unusual = np.flatnonzero((doing == Doing.HOLDING) | (doing == Doing.SEEPING))
    tied = np.ones(doing.size, dtype=bool)
    if unusual.size:
        most = upstream_m(model, scene.losses, head)[unusual]
        seeps = doing[unusual] == Doing.SEEPING
        # A valve that holds its setting loses whatever it must: the slope only steadies the step.
        slope[unusual] = np.where(seeps, _SEEP_SLOPE, LEAST_SLOPE)
        energy[unusual] = head[model.end[unusual]] - np.where(
            seeps, most - _SEEP_SLOPE * flow[unusual], held_head_m(model)[unusual]
        )
        tied[unusual] = seeps & (most == head[model.start[unusual]])
    passes = (doing != Doing.DEAD) & (doing != Doing.STOPPED)
    conductance = np.where(passes, 1.0 / slope, 0.0)
    needed, steep = head_needed(outlets, guess.outflow_l_s)
    partly = guess.runs == Runs.PARTLY
    leaving = scene.given_l_s + np.bincount(outlets.node, guess.outflow_l_s, minlength=head.size)
    return Residuals(
        np.where(passes, energy, 0.0),
        np.where(scene.sought, scene.pattern.meets @ flow - leaving, 0.0),
        np.where(partly, needed - head[outlets.node], 0.0),
        conductance,
        np.where(tied, conductance, 0.0),
        np.where(partly, 1.0 / steep, 0.0),
    )


def factors_at(scene: Scene, at: Residuals) -> SuperLU:
    """The factors of the balance of junctions, linear about a guess; 1 where no head is sought."""
    more = np.bincount(scene.outlets.node, at.outlet_conductance, minlength=scene.sought.size)
    by_node = np.where(scene.sought, more, 1.0)
    return factored(scene.pattern, at.forward, at.conductance, by_node)
