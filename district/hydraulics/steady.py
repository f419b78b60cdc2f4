"""Heads and flows in balance: the global gradient method, with valves that change."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from district.errors import UnsettledError
from district.hydraulics.assembly import Pattern, pattern_of
from district.hydraulics.head_loss import head_lost
from district.hydraulics.model import Kind, Model, Openings, Reals, Service, State, Wholes
from district.hydraulics.outlets import at_heads, turned
from district.hydraulics.residuals import Guess, Residuals, Scene, factors_at, residuals, scene_of
from district.hydraulics.valves import Doing, at_first, at_state, changed, seeping

SETTLED_M, SETTLED_L_S = 1e-9, 1e-9
"""Residuals at which heads and flows count as found."""
STILL_SHARE = 1e-6
"""Change of flow in the last step, as a share of the largest flow, at which they do."""
_ROUNDING = 1e-13
"""Share of the largest head or flow that no residual can be asked to fall below."""
MOST_STEPS = 300
_NEARLY = 0.5
"""Change of flows in a step, as a share of them all, after which valves may change."""
_ALL_AT_ONCE = 10
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
    residuals come down to rounding. Outflows that depend on pressure are sought as flows too, each
    with the head it loses on its way to the open, so that a step cannot leap over the pressure at
    which they begin.

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

    Raises `UnsettledError` naming where the residual is largest; `ValueError` for demands that are
    no numbers, openings that let water in, and a pattern of another model.
    """
    if demand_l_s.shape != model.node_id.shape or not np.isfinite(demand_l_s).all():
        raise ValueError("demand_l_s: expected one finite number a node")
    scene = scene_of(model, demand_l_s, openings, service, pattern or pattern_of(model))
    # A search may wander far before it settles; what comes of that is judged by the residuals.
    with np.errstate(over="ignore", invalid="ignore"):
        for guess, at in _beginnings(scene, start):
            try:
                return _settled(scene, guess, at)
            except UnsettledError as reason:
                failed = reason
    raise failed


def _settled(scene: Scene, guess: Guess, at: Residuals) -> State:
    changes = 0
    for steps in range(1, MOST_STEPS + 1):
        try:
            further = _stepped(scene, guess, at)
        except RuntimeError as singular:  # SuperLU's only word for it.
            raise UnsettledError(_where(scene, at, steps)) from singular
        moved = np.abs(further.flow_l_s - guess.flow_l_s)
        turning = bool((further.runs != guess.runs).any())
        guess, at = further, residuals(scene, further)
        settled = not turning and _is_settled(guess, at, moved)
        careful = changes >= _ALL_AT_ONCE
        if settled or (not careful and moved.sum() <= _NEARLY * np.abs(guess.flow_l_s).sum()):
            following = _following(scene, guess, alone=careful)
            if (following != guess.doing).any():
                guess, changes = _restarted(scene, guess, following), changes + 1
                at = residuals(scene, guess)
            elif settled:
                return _state(scene, guess, at, steps)
    raise UnsettledError(_where(scene, at, MOST_STEPS))


def _is_settled(guess: Guess, at: Residuals, moved_l_s: Reals) -> bool:
    largest_l_s = float(np.abs(guess.flow_l_s).max(initial=0.0))
    largest_m = float(np.abs(guess.head_m).max(initial=0.0))
    return (
        at.largest_m() <= max(SETTLED_M, _ROUNDING * largest_m)
        and at.largest_l_s() <= max(SETTLED_L_S, _ROUNDING * largest_l_s)
        and float(moved_l_s.max(initial=0.0)) <= STILL_SHARE * largest_l_s + SETTLED_L_S
    )


def _beginnings(scene: Scene, start: State | None) -> Iterator[tuple[Guess, Residuals]]:
    """Where to begin and what is missed there, one after another until a search settles.

    From `start`, if there is one. At rest, with slopes as if every link lost in proportion to its
    flow, at the rate of its usual flow: so the first step shares out the flows, and none circle
    for nothing. At the usual flows.
    """
    model, fixed, usual = scene.model, scene.model.fixed_head_m, scene.losses.usual_l_s
    highest = float(np.nanmax(fixed)) if np.isfinite(fixed).any() else 0.0
    level = np.where(scene.sought, highest, np.where(np.isnan(fixed), model.elevation_m, fixed))
    if start is not None:
        head = np.where(scene.sought & ~np.isnan(start.head_m), start.head_m, level)
        doing = at_state(model, scene.losses, scene.alive, scene.sought, start.flow_l_s, head)
        passes = (doing == Doing.PASSING) | (doing == Doing.HOLDING)
        outflow, runs = at_heads(scene.outlets, head)
        guess = Guess(np.where(passes, start.flow_l_s, 0.0), head, outflow, doing, runs)
        yield guess, residuals(scene, guess)
    outflow, runs = at_heads(scene.outlets, level)
    guess = Guess(np.zeros(usual.size), level, outflow, at_first(scene.alive), runs)
    lost = head_lost(scene.losses, usual).head_m + scene.losses.lift_m
    even = np.where(scene.alive, usual / lost, 0.0)
    yield guess, residuals(scene, guess)._replace(conductance=even, forward=even)
    guess = guess._replace(flow_l_s=np.where(scene.alive, usual, 0.0))
    yield guess, residuals(scene, guess)


def _stepped(scene: Scene, guess: Guess, at: Residuals) -> Guess:
    """The guess after one step of Newton's method, heads found first, flows by them."""
    model, pattern, outlets = scene.model, scene.pattern, scene.outlets
    rise = np.zeros(guess.head_m.size)
    if pattern.size:
        nodes = rise.size
        back = np.bincount(outlets.node, at.outlet_conductance * at.outlet_m, minlength=nodes)
        short = at.mass_l_s - pattern.meets @ (at.conductance * at.energy_m) + back
        free = pattern.place >= 0
        wanted = np.empty(pattern.size)
        wanted[pattern.place[free]] = np.where(scene.sought, short, 0.0)[free]
        rise[free] = factors_at(scene, at).solve(wanted)[pattern.place[free]]
    more = at.forward * rise[model.start] - at.conductance * (rise[model.end] + at.energy_m)
    out = at.outlet_conductance * (rise[outlets.node] - at.outlet_m)
    head = guess.head_m + rise
    outflow, runs = turned(outlets, guess.runs, guess.outflow_l_s + out, head)
    return Guess(guess.flow_l_s + more, head, outflow, guess.doing, runs)


def _following(scene: Scene, guess: Guess, *, alone: bool) -> Wholes:
    if (scene.model.kind == Kind.PIPE).all():
        return guess.doing
    following, broken = changed(
        scene.model, scene.losses, guess.doing, guess.flow_l_s, guess.head_m
    )
    if alone and broken.any():
        worst = int(broken.argmax())
        following = np.where(np.arange(broken.size) == worst, following, guess.doing)
    return seeping(scene.model, following, scene.sought)


def _restarted(scene: Scene, guess: Guess, following: Wholes) -> Guess:
    """The guess to go on from where links changed: no flow where stopped, the usual where not."""
    stopped = (following == Doing.STOPPED) | (following == Doing.SEEPING)
    was = (guess.doing == Doing.STOPPED) | (guess.doing == Doing.SEEPING)
    flow = np.where(was & ~stopped, scene.losses.usual_l_s, guess.flow_l_s)
    return guess._replace(flow_l_s=np.where(stopped, 0.0, flow), doing=following)


def _state(scene: Scene, guess: Guess, at: Residuals, steps: int) -> State:
    outlets, nodes = scene.outlets, guess.head_m.size
    leak = np.where(outlets.is_leak, guess.outflow_l_s, 0.0)
    leakage = np.bincount(outlets.node, leak, minlength=nodes).astype(float)
    served = np.bincount(outlets.node, guess.outflow_l_s - leak, minlength=nodes)
    return State(
        np.where(scene.reached, guess.head_m, np.nan),
        guess.flow_l_s,
        scene.given_l_s + served,
        leakage,
        scene.reached,
        steps,
        steps if scene.pattern.size else 0,
        at.largest_l_s(),
        at.largest_m(),
    )


def _where(scene: Scene, at: Residuals, steps: int) -> str:
    link, node = int(np.abs(at.energy_m).argmax()), int(np.abs(at.mass_l_s).argmax())
    return (
        f"The pressures and flows find no balance in {steps} steps. Furthest off: pipe "
        f"{scene.model.link_id[link]} by {abs(at.energy_m[link]):.3g} m of head, node "
        f"{scene.model.node_id[node]} by {abs(at.mass_l_s[node]):.3g} L/s. Check bores, roughness "
        "and valve settings near them."
    )
