"""What a leak at each node of a zone would do to the loggers, and how far the model may be off."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from scipy.sparse import csr_array

from district.hydraulics import Model, State, head_sensitivity, pattern_of, solve
from district.hydraulics.model import Reals, Wholes
from district.hydraulics.water import Calibrated, Demands
from district.locate.pressure_curve import bent_m

LEAK_EXPONENT = 1.0
"""Power of pressure by which a leak falls in the day (common practice: 1 for mixed pipes)."""
_SEED = 20_310_704


@dataclass(frozen=True, eq=False)
class Signatures:
    """B blocks of the day, G loggers, N nodes, K draws; a leak of q L/s at the stated size.

    sensitivity (B, G, N)
        m of head at each logger for each L/s more drawn at a node.
    made_m (B, G, P)
        change of head that a leak at each of P points makes, the zone's inflow being as measured.
    drawn_m (K, B, G, P)
        departures of the change of head from the middle one.
    """

    sensitivity: Reals
    made_m: Reals
    drawn_m: Reals


def signatures(
    calibrated: Calibrated,
    demands: Demands,
    cell: int,
    middle_l_s: Reals,
    change_l_s: Reals,
    *,
    flow_l_s: float,
    likely_share: Reals,
    points: Wholes,
    draws_count: int,
) -> Signatures:
    """Change of head that a leak at each point (P nodes) would make, with draws of what is not known.

    Parameters: `cell` the leak's zone, a row of `demands.use`; `middle_l_s`, `change_l_s` (B, N)
    draw halfway through the change and its change, the leak spread as the zone's use;
    `likely_share` (N) where the leak likely is, summing to 1: the state is taken with half of it
    there, so that the slope is that of the whole step and not of its first drop; what bends beyond
    that is added. The zone's inflow is measured, so a leak moves flow from the zone's use to its
    own place. Draws: roughness as calibrated, and each connection's share of its zone's use.
    """
    drawn = calibrated.drawn
    model, pattern = drawn.model, pattern_of(drawn.model)
    use = np.asarray(demands.use[[cell]].todense()).ravel()
    at = middle_l_s + flow_l_s / 2 * (likely_share - use)
    states = [solve(model, row, pattern=pattern) for row in at]
    sensitivity = np.array([head_sensitivity(model, s, drawn.watch, pattern=pattern) for s in states])
    leak = flow_l_s * _leak_share(model, states)[:, points]
    made = leak[:, None] * _apart(sensitivity, use, points)
    for b, state in enumerate(states):
        made[b] += bent_m(
            model, state, sensitivity[b], points,
            flow_l_s=leak[b], likely_share=likely_share, pattern=pattern,
        )  # fmt: skip
    drawn_m = np.zeros((draws_count, *made.shape))
    for draw in range(draws_count):
        random = np.random.default_rng([_SEED, draw])
        rough = replace(model, roughness=calibrated.roughness[draw % len(calibrated.roughness)])
        moved = _moved_use(drawn.tap, demands, random)
        own = use * moved
        own = own / own.sum() if own.sum() > 0 else use
        for b, state in enumerate(states):
            draws = _same_totals(at[b] * moved, at[b], demands)
            change = _same_totals(change_l_s[b] * moved, change_l_s[b], demands)
            there = solve(rough, draws, start=state, pattern=pattern)
            other = head_sensitivity(rough, there, drawn.watch, pattern=pattern)
            apart = _apart(other, own, points) - _apart(sensitivity[b], use, points)
            known = other @ change - sensitivity[b] @ change_l_s[b]
            drawn_m[draw, b] = leak[b] * apart + known[:, None]
    return Signatures(sensitivity, made, drawn_m)


def _apart(sensitivity: Reals, use: Reals, points: Wholes) -> Reals:
    """Sensitivity (..., P) to a litre that leaves at a point instead of with the zone's use."""
    return np.asarray(sensitivity[..., points] - (sensitivity @ use)[..., None])


def _moved_use(tap: csr_array, demands: Demands, random: np.random.Generator) -> Reals:
    """Factor (N) by which each node's use departs from its share, mean about 1."""
    spread = float(np.max(demands.use_spread_share, initial=0.0)) / 1.96
    each = np.exp(spread * random.standard_normal(tap.shape[0]) - spread**2 / 2)
    weight = tap.T @ np.ones(tap.shape[0])
    return np.where(weight > 0, (tap.T @ each) / np.where(weight > 0, weight, 1.0), 1.0)


def _same_totals(moved: Reals, told: Reals, demands: Demands) -> Reals:
    """`moved` scaled back so that each cell draws in all what it is told to."""
    member = (demands.use != 0).astype(float)
    have, want = member @ moved, member @ told
    scale = np.where(np.abs(have) > 1e-9, want / np.where(np.abs(have) > 1e-9, have, 1.0), 1.0)
    by_node = member.T @ scale
    count = member.T @ np.ones(member.shape[0])
    return np.where(count > 0, moved * by_node / np.where(count > 0, count, 1.0), told)


def _leak_share(model: Model, states: list[State]) -> Reals:
    """Share of its flow at the block of the highest pressure that a leak has in each (B, N)."""
    pressure = np.array([s.head_m for s in states]) - model.elevation_m
    pressure = np.nan_to_num(pressure).clip(min=1.0)
    return np.asarray((pressure / pressure.max(axis=0)) ** LEAK_EXPONENT)
