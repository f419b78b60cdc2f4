"""Tanks: what their levels let them do, and how far levels run in a time."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np

from district.hydraulics.model import Flags, Model, Reals, State, Wholes

JUST_L_S = 1e-9
"""Flow that counts as none."""
JUST_M3 = 1e-9
"""Room in a tank that counts as none."""


@dataclass(frozen=True, eq=False)
class Tanks:
    """K tanks, each at a node of its own; its head is its level plus the node's elevation.

    node (K), area_m2 (K; the same at all levels), lowest_m, highest_m (K; levels between which it
    gives and takes water), level_m (K; at the start).
    """

    node: Wholes
    area_m2: Reals
    lowest_m: Reals
    highest_m: Reals
    level_m: Reals


def with_tanks(model: Model, tanks: Tanks, level_m: Reals, idle: Flags) -> Model:
    """The model with its tanks at their levels (K); one that is `idle` is a plain junction."""
    head = model.fixed_head_m.copy()
    head[tanks.node] = np.where(idle, np.nan, model.elevation_m[tanks.node] + level_m)
    return replace(model, fixed_head_m=head)


def gained_l_s(model: Model, state: State) -> Reals:
    """What flows into each node (N) over what leaves there: 0 but where the head is fixed."""
    nodes = state.head_m.size
    comes = np.bincount(model.end, state.flow_l_s, minlength=nodes)
    goes = np.bincount(model.start, state.flow_l_s, minlength=nodes)
    return np.asarray(comes - goes - state.demand_l_s - state.leakage_l_s)


def allowed(
    balance: Callable[[Flags], State], model: Model, tanks: Tanks, level_m: Reals, idle: Flags
) -> tuple[State, Flags]:
    """The state in which no full tank fills and no empty one drains, and which tanks idle in it.

    `balance` gives the state with some tanks (K) idle; `idle` is where to begin. A tank that idled
    wakes once where the head in the pipes would turn its flow.
    """
    full = (tanks.highest_m - level_m) * tanks.area_m2 <= JUST_M3
    empty = (level_m - tanks.lowest_m) * tanks.area_m2 <= JUST_M3
    # A tank off its ends is never idle; each may wake once, then at most idle again.
    idle = idle & (full | empty)
    may_wake = idle.copy()
    while True:
        state = balance(idle)
        fills = gained_l_s(model, state)[tanks.node]
        head = state.head_m[tanks.node] - model.elevation_m[tanks.node]
        stops = ~idle & ((full & (fills > JUST_L_S)) | (empty & (fills < -JUST_L_S)))
        # Without pressure in the pipes (NaN) a full tank drains and an empty one stays.
        wakes = idle & may_wake & ((full & ~(head >= level_m)) | (empty & (head > level_m)))
        if not (stops | wakes).any():
            return state, idle
        may_wake = may_wake & ~wakes
        idle = (idle | stops) & ~wakes


def run_levels(
    tanks: Tanks, level_m: Reals, fills_l_s: Reals, longest_s: float
) -> tuple[float, Reals]:
    """How long flows into the tanks (K) may run, and the levels then.

    Until `longest_s` or until the first tank comes to its highest or lowest level.
    """
    speed = fills_l_s / 1000.0 / tanks.area_m2
    end = np.where(speed > 0, tanks.highest_m, tanks.lowest_m)
    moves = np.abs(fills_l_s) > JUST_L_S
    time_s = np.where(moves, (end - level_m) / np.where(moves, speed, 1.0), np.inf)
    lasts_s = float(min(longest_s, max(time_s.min(initial=np.inf), 0.0)))
    return lasts_s, np.where(time_s <= lasts_s, end, level_m + speed * lasts_s)
