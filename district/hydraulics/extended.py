"""Hour after hour: many balances of one model, and tanks that fill and empty between them."""

from __future__ import annotations

from collections.abc import Callable
from functools import partial
from typing import NamedTuple

import numpy as np

from district.hydraulics.assembly import Pattern, pattern_of
from district.hydraulics.model import Flags, Model, Openings, Reals, Service, State
from district.hydraulics.steady import solve
from district.hydraulics.tanks import Tanks, allowed, gained_l_s, run_levels, with_tanks

LEAST_STEP_S = 1e-6
"""Rest of a step that is too short to count."""


class Course(NamedTuple):
    """T states one after another, as arrays by node (T, N) and link (T, L).

    head_m is NaN where a node is not reached; see `State`.
    """

    head_m: Reals
    flow_l_s: Reals
    demand_l_s: Reals
    leakage_l_s: Reals
    reached: Flags


class Hours(NamedTuple):
    """T steps with K tanks: the state at the start of each, and what moved during it.

    level_m (T + 1, K)
        level of each tank before the first step and after each.
    tank_l_s (T, K)
        mean net flow into each tank.
    source_l_s (T, N)
        mean of what each other node of fixed head gives; 0 at junctions and tanks.
    delivered_l_s, leaked_l_s (T, N)
        means of what left.
    splits_count
        how many times a step was split because a tank came to its highest or lowest level.
    """

    course: Course
    level_m: Reals
    tank_l_s: Reals
    source_l_s: Reals
    delivered_l_s: Reals
    leaked_l_s: Reals
    splits_count: int


class _Part(NamedTuple):
    """A time over which flows hold: how long, what they are, and into tanks (K), out of sources
    (N)."""

    lasts_s: float
    state: State
    fills: Reals
    gives: Reals


def solve_many(
    model: Model,
    demand_l_s: Reals,
    *,
    openings: Openings | None = None,
    service: Service | None = None,
    start: State | None = None,
    pattern: Pattern | None = None,
) -> Course:
    """The balances of one model at T demands (T, N), each begun from the one before.

    For the rest see `solve`.
    """
    chosen = pattern or pattern_of(model)
    states = []
    for wanted in demand_l_s:
        start = solve(
            model, wanted, openings=openings, service=service, start=start, pattern=chosen
        )
        states.append(start)
    return _course(model, states)


def run_hours(
    model: Model,
    demand_l_s: Reals,
    *,
    step_s: float,
    tanks: Tanks,
    openings: Openings | None = None,
    service: Service | None = None,
) -> Hours:
    """Balances at T demands (T, N), each of which holds for `step_s`, with tanks.

    Flows hold from one balance to the next and levels follow them (Euler's method). A step is
    split where a tank comes to its highest or lowest level. From then on a full tank takes nothing
    in and an empty one gives nothing, until the heads in the pipes would turn its flow: meanwhile
    its node is a plain junction. Raises `UnsettledError`, see `solve`.
    """
    balance = _balancer(model, tanks, openings, service)
    idle = np.zeros(tanks.node.size, dtype=bool)
    level, state = tanks.level_m.astype(float), None
    levels, steps = [level], []
    for wanted in demand_l_s:
        left_s, parts = step_s, []
        while left_s > LEAST_STEP_S:
            state, idle = allowed(partial(balance, wanted, level, state), model, tanks, level, idle)
            gains = gained_l_s(model, state)
            fills = np.where(idle, 0.0, gains[tanks.node])
            lasts_s, level = run_levels(tanks, level, fills, left_s)
            gives = np.where(np.isnan(model.fixed_head_m), 0.0, -gains)
            gives[tanks.node] = 0.0
            left_s -= lasts_s
            parts.append(_Part(lasts_s, state, fills, gives))
        steps.append(parts)
        levels.append(level)

    def mean(of: Callable[[_Part], Reals], width: int) -> Reals:
        sums = [sum(p.lasts_s * of(p) for p in parts) for parts in steps]
        return np.array(sums).reshape(-1, width) / step_s

    nodes = model.node_id.size
    return Hours(
        _course(model, [parts[0].state for parts in steps]),
        np.array(levels),
        mean(lambda p: p.fills, tanks.node.size),
        mean(lambda p: p.gives, nodes),
        mean(lambda p: p.state.demand_l_s, nodes),
        mean(lambda p: p.state.leakage_l_s, nodes),
        sum(len(parts) - 1 for parts in steps),
    )


def _balancer(
    model: Model, tanks: Tanks, openings: Openings | None, service: Service | None
) -> Callable[[Reals, Reals, State | None, Flags], State]:
    """Solves for demands (N), levels (K), a start and idle tanks (K); keeps the patterns."""
    patterns: dict[bytes, Pattern] = {}

    def balance(wanted: Reals, level_m: Reals, start: State | None, idle: Flags) -> State:
        now = with_tanks(model, tanks, level_m, idle)
        key = idle.tobytes()
        if key not in patterns:
            patterns[key] = pattern_of(now)
        return solve(
            now, wanted, openings=openings, service=service, start=start, pattern=patterns[key]
        )

    return balance


def _course(model: Model, states: list[State]) -> Course:
    nodes, links = model.node_id.size, model.link_id.size
    return Course(
        np.array([s.head_m for s in states]).reshape(-1, nodes),
        np.array([s.flow_l_s for s in states]).reshape(-1, links),
        np.array([s.demand_l_s for s in states]).reshape(-1, nodes),
        np.array([s.leakage_l_s for s in states]).reshape(-1, nodes),
        np.array([s.reached for s in states], dtype=bool).reshape(-1, nodes),
    )
