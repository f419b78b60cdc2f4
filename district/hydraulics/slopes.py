"""Modelled heads at the loggers in each state, and how roughness and use would move them."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from district.hydraulics.assembly import Pattern, pattern_of
from district.hydraulics.model import Reals, State
from district.hydraulics.sensitivity import sensitivity
from district.hydraulics.states import DayStates
from district.hydraulics.steady import solve
from district.hydraulics.water import Demands, Drawn

_Z_95 = 1.96


@dataclass(frozen=True, eq=False)
class Slopes:
    """S states solved at one roughness.

    head_m (S, G)
        as modelled; NaN where nothing reaches the logger.
    by_roughness_m (S, G, L)
        its change by the logarithm of each link's roughness.
    by_draw (S, G, N)
        its change in m for each L/s more drawn at a node.
    states
        to begin the next from.
    """

    head_m: Reals
    by_roughness_m: Reals
    by_draw: Reals
    states: tuple[State, ...]
    pattern: Pattern


def slopes_at(
    drawn: Drawn, seen: DayStates, roughness: Reals, *, before: Slopes | None = None
) -> Slopes:
    """Solve every state at these roughnesses (L). Raises what `solve` raises."""
    model = replace(drawn.model, roughness=roughness)
    pattern = before.pattern if before else pattern_of(model)
    states: list[State] = []
    head, by_roughness, by_draw = [], [], []
    for s, demand in enumerate(seen.demand_l_s):
        near = before.states[s] if before else states[-1] if states else None
        state = solve(model, demand, start=near, pattern=pattern)
        moved = sensitivity(model, state, drawn.watch, pattern=pattern)
        states.append(state)
        head.append(drawn.watch @ state.head_m)
        by_roughness.append(moved.roughness)
        by_draw.append(moved.drawn)
    return Slopes(np.array(head), np.array(by_roughness), np.array(by_draw), tuple(states), pattern)


def use_deviations_m(drawn: Drawn, demands: Demands, seen: DayStates, by_draw: Reals) -> Reals:
    """Change of head (S, G, N) when the use at a node is one standard deviation off its share.

    Each cell's use stays what it is: what one node draws more, the others draw less.
    """
    share = demands.use.toarray()
    off = share * use_spread(drawn, demands)
    mean = by_draw @ share.T
    apart = by_draw * (seen.use_l_s @ off)[:, None, :]
    return np.asarray(apart - (mean * seen.use_l_s[:, None, :]) @ off)


def use_spread(drawn: Drawn, demands: Demands) -> Reals:
    """Standard deviation of each node's use (N) as a share of it.

    A node with several connections is off by less than one alone, by the root of their number.
    """
    tapped = np.asarray(drawn.tap.sum(axis=0))
    squares = np.asarray((drawn.tap * drawn.tap).sum(axis=0))
    number = np.divide(tapped**2, squares, out=np.ones(len(tapped)), where=squares > 0)
    member = (demands.use != 0).astype(float)
    return np.asarray((demands.use_spread_share / _Z_95) @ member / np.sqrt(number))
