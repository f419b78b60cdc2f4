"""Heads and flows in balance: the global gradient method, damped, with valves that change."""

from __future__ import annotations

import numpy as np

from district.errors import UnsettledError
from district.hydraulics.assembly import Pattern, factored, pattern_of
from district.hydraulics.model import Model, Openings, Reals, Service, State, Wholes
from district.hydraulics.residuals import Residuals, Scene, residuals, scene_of
from district.hydraulics.valves import Doing, at_first, at_state, changed, seeping

SETTLED_M, SETTLED_L_S = 1e-9, 1e-9
"""Residuals at which heads and flows count as found."""
STILL_SHARE = 1e-6
"""Change of flow in the last step, as a share of the largest flow, at which they do."""
MOST_STEPS = 200
_MOST_HALVINGS = 12
_NEARLY = 0.05
"""Change of flows in a step, as a share of them all, after which valves may change."""
_ALL_AT_ONCE = 20
"""Changes of valves after which only the one that breaks its condition most changes."""


def solve(
    model: Model,
    demand_l_s: Reals,
    *,
    openings: Openings | None = None,
    service: Service | None = None,
    start: State | None = None,
    pattern: Pattern | None = None,
) -> State:
    """Heads and flows of a model at which every junction and link is in balance.

    The global gradient method of Todini & Pilati (1987) in the form of corrections, so that both
    residuals come down to rounding. A step is halved while the weighted squares of the residuals
    would grow, as Elhay, Piller, Deuerlein & Simpson (2016, from memory) do where outflow depends
    on pressure.

    Parameters
    ----------
    demand_l_s (N)
        what users want; below zero where water flows in. All of it leaves unless `service` says
        how it falls with pressure.
    openings
        leakage at the nodes, by pressure.
    start
        a state of a model with the same nodes and links, to begin from.
    pattern
        `pattern_of(model)`, made once for all models of the same links and fixed nodes.

    Raises `UnsettledError` naming where the residual is largest, `ValueError` for demands that are
    no numbers.
    """
    if demand_l_s.shape != model.node_id.shape or not np.isfinite(demand_l_s).all():
        raise ValueError("demand_l_s: expected one finite number a node")
    scene = scene_of(model, demand_l_s, openings, service, pattern or pattern_of(model))
    flow, head, doing = _begun(scene, start)
    at = residuals(scene, doing, flow, head)
    changes = 0
    for steps in range(1, MOST_STEPS + 1):
        flow, head, at, moved = _stepped(scene, doing, flow, head, at)
        largest = np.abs(flow).max(initial=0.0)
        settled = _is_settled(at) and moved.max(initial=0.0) <= STILL_SHARE * largest
        if settled or moved.sum() <= _NEARLY * np.abs(flow).sum():
            following = _following(scene, doing, flow, head, alone=changes >= _ALL_AT_ONCE)
            if (following != doing).any():
                flow = _restarted(scene, doing, following, flow)
                doing, changes = following, changes + 1
                at = residuals(scene, doing, flow, head)
            elif settled:
                return _state(scene, flow, head, at, steps)
    raise UnsettledError(_where(scene, at))


def _begun(scene: Scene, start: State | None) -> tuple[Reals, Reals, Wholes]:
    """Flows, heads and what the links do to begin with."""
    model = scene.model
    fixed = model.fixed_head_m
    highest = np.nanmax(fixed, initial=-np.inf) if np.isfinite(fixed).any() else 0.0
    guess = np.full(fixed.size, highest) if start is None else start.head_m
    guess = np.where(np.isnan(guess), highest, guess)
    head = np.where(np.isnan(fixed), np.where(scene.sought, guess, model.elevation_m), fixed)
    usual = scene.losses.usual_l_s
    if start is None:
        return np.where(scene.alive, usual, 0.0), head, at_first(scene.alive)
    doing = at_state(model, scene.losses, scene.alive, scene.sought, start.flow_l_s, head)
    runs = (doing == Doing.PASSING) | (doing == Doing.HOLDING)
    return np.where(runs, start.flow_l_s, 0.0), head, doing


def _stepped(
    scene: Scene, doing: Wholes, flow_l_s: Reals, head_m: Reals, at: Residuals
) -> tuple[Reals, Reals, Residuals, Reals]:
    """Flows and heads after one damped step, what they miss, and how far each flow moved."""
    model, pattern = scene.model, scene.pattern
    rise = np.zeros(head_m.size)
    if pattern.size:
        factors = factored(pattern, at.forward, at.conductance, at.outflow_slope)
        short = at.mass_l_s - pattern.meets @ (at.conductance * at.energy_m)
        free = pattern.place >= 0
        wanted = np.empty(pattern.size)
        wanted[pattern.place[free]] = np.where(scene.sought, short, 0.0)[free]
        rise[free] = factors.solve(wanted)[pattern.place[free]]
    more = (
        at.forward * rise[model.start]
        - at.conductance * rise[model.end]
        - at.conductance * at.energy_m
    )
    before = _weighed(at, at, pattern)
    share, best = 1.0, (np.inf, 1.0, at)
    # With outflows that are given the full step always comes closer in the end.
    bends = scene.openings is not None or scene.service is not None
    for _ in range(_MOST_HALVINGS if bends else 1):
        there = residuals(scene, doing, flow_l_s + share * more, head_m + share * rise)
        after = _weighed(there, at, pattern)
        if after < best[0]:
            best = (after, share, there)
        if after <= before or _is_settled(there):
            break
        share *= 0.5
    _, share, there = best
    return flow_l_s + share * more, head_m + share * rise, there, np.abs(more)


def _weighed(there: Residuals, at: Residuals, pattern: Pattern) -> float:
    """Squares of the residuals `there`, in the measure of the slopes `at` the step's start."""
    meets = abs(pattern.meets) @ at.conductance + at.outflow_slope
    lost = at.conductance @ there.energy_m**2
    return float(lost + (there.mass_l_s**2 / np.maximum(meets, 1e-12)).sum())


def _is_settled(at: Residuals) -> bool:
    return bool(
        np.abs(at.energy_m).max(initial=0.0) <= SETTLED_M
        and np.abs(at.mass_l_s).max(initial=0.0) <= SETTLED_L_S
    )


def _following(
    scene: Scene, doing: Wholes, flow_l_s: Reals, head_m: Reals, *, alone: bool
) -> Wholes:
    following, broken = changed(scene.model, scene.losses, doing, flow_l_s, head_m)
    if alone and broken.any():
        worst = int(broken.argmax())
        following = np.where(np.arange(doing.size) == worst, following, doing)
    return seeping(scene.model, following, scene.sought)


def _restarted(scene: Scene, doing: Wholes, following: Wholes, flow_l_s: Reals) -> Reals:
    """Flows to go on from where links changed: none where stopped, the usual where reopened."""
    stopped = (following == Doing.STOPPED) | (following == Doing.SEEPING)
    was = (doing == Doing.STOPPED) | (doing == Doing.SEEPING)
    reopened = was & ~stopped
    return np.where(stopped, 0.0, np.where(reopened, scene.losses.usual_l_s, flow_l_s))


def _state(scene: Scene, flow_l_s: Reals, head_m: Reals, at: Residuals, steps: int) -> State:
    return State(
        np.where(scene.reached, head_m, np.nan),
        flow_l_s,
        at.delivered_l_s,
        at.leakage_l_s,
        scene.reached,
        steps,
        steps if scene.pattern.size else 0,
        float(np.abs(at.mass_l_s).max(initial=0.0)),
        float(np.abs(at.energy_m).max(initial=0.0)),
    )


def _where(scene: Scene, at: Residuals) -> str:
    link, node = int(np.abs(at.energy_m).argmax()), int(np.abs(at.mass_l_s).argmax())
    return (
        f"The pressures and flows find no balance in {MOST_STEPS} steps. Furthest off: pipe "
        f"{scene.model.link_id[link]} by {abs(at.energy_m[link]):.3g} m of head, node "
        f"{scene.model.node_id[node]} by {abs(at.mass_l_s[node]):.3g} L/s. Check bores, roughness "
        "and valve settings near them."
    )
