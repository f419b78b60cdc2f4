"""What a leak at each node of a zone would do to the loggers, and how far the model may be off."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from scipy.sparse import csr_array

from district.hydraulics import Model, State, head_sensitivity, pattern_of, solve
from district.hydraulics.model import Reals, Wholes
from district.hydraulics.water import Calibrated, Demands
from district.locate.pressure_residuals import Drawing
from district.locate.pressure_steps import effect_m

LEAK_EXPONENT = 1.0
"""Power of pressure by which a leak falls in the day (common practice: 1 for mixed pipes)."""


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
    halfway: Drawing,
    change: Drawing,
    *,
    flow_l_s: float,
    likely_share: Reals,
    points: Wholes,
) -> Signatures:
    """Change of head that a leak at each point (P nodes) would make, by draws of what is not known.

    Parameters: `cell` the leak's zone, a row of `demands.use`; `halfway`, `change` what is drawn
    halfway through the change and its change, the leak spread as the zone's use; `likely_share`
    (N) where the leak likely is, summing to 1: the draws are taken about a state with half of it
    there, so that slopes are those of the whole step and not of its first drop.
    The zone's inflow is measured, so a leak moves flow from the zone's use to its own place. Draws:
    roughness and where a zone uses its water, as calibrated.
    """
    model, watch = calibrated.drawn.model, calibrated.drawn.watch
    pattern = pattern_of(model)
    use = demands.use.toarray()
    at = halfway.node_l_s + flow_l_s / 2 * (likely_share - use[cell])
    in_use = halfway.use_l_s.copy()
    in_use[:, cell] -= flow_l_s / 2
    states = [solve(model, row, pattern=pattern) for row in at]
    sensitivity = np.array([head_sensitivity(model, s, watch, pattern=pattern) for s in states])
    leak = flow_l_s * _leak_share(model, states)[:, points]
    # What was measured halfway has half of the leak in it, as large as it is in that block.
    without = halfway.node_l_s - leak.mean(axis=1, keepdims=True) / 2 * use[cell]
    made = effect_m(
        calibrated.drawn, states, sensitivity, without, points,
        flow_l_s=leak, pattern=pattern,
    )  # fmt: skip
    made -= leak[:, None] * (sensitivity @ use[cell])[..., None]
    draws = len(calibrated.roughness)
    drawn_m = np.zeros((draws, *made.shape))
    lowest, highest = 0, len(states) - 1
    total = at.sum(axis=1)
    far = (total - total[lowest]) / max(float(total[highest] - total[lowest]), 1e-9)
    for k in range(draws):
        rough = replace(model, roughness=calibrated.roughness[k])
        moved = use_drawn(calibrated, demands, k)
        departs = {}
        for b in (lowest, highest):
            drawn = at[b] + in_use[b] @ (moved - use)
            there = solve(rough, drawn, start=states[b], pattern=pattern)
            other = head_sensitivity(rough, there, watch, pattern=pattern)
            departs[b] = other - sensitivity[b]
        for b in range(len(states)):
            # Slopes go nearly by the flow, so that what they are off by is between the two.
            off = departs[lowest] + far[b].clip(0.0, 1.0) * (departs[highest] - departs[lowest])
            other = sensitivity[b] + off
            apart = _apart(other, moved[cell], points) - _apart(sensitivity[b], use[cell], points)
            changed = change.node_l_s[b] + change.use_l_s[b] @ (moved - use)
            known = other @ changed - sensitivity[b] @ change.node_l_s[b]
            drawn_m[k, b] = leak[b] * apart + known[:, None]
    return Signatures(sensitivity, made, drawn_m)


def expected_use(calibrated: Calibrated, demands: Demands) -> Demands:
    """Demands with each cell's use where the readings of pressure say it is."""
    if not len(calibrated.use_index):
        return demands
    return replace(demands, use=csr_array(_rows_to_one(demands, calibrated.use_index[0])))


def use_drawn(calibrated: Calibrated, demands: Demands, draw: int) -> Reals:
    """Spread of each cell's use (C, N) in a draw; `demands` with the expected one."""
    if not len(calibrated.use_index):
        return np.asarray(demands.use.toarray())
    index = calibrated.use_index
    return _rows_to_one(demands, index[1 + draw] / index[0])


def _rows_to_one(demands: Demands, index: Reals) -> Reals:
    use = demands.use.toarray() * index
    total = use.sum(axis=1, keepdims=True)
    return np.asarray(use / np.where(total > 0, total, 1.0))


def _apart(sensitivity: Reals, use: Reals, points: Wholes) -> Reals:
    """Sensitivity (..., P) to a litre that leaves at a point instead of with the zone's use."""
    return np.asarray(sensitivity[..., points] - (sensitivity @ use)[..., None])


def _leak_share(model: Model, states: list[State]) -> Reals:
    """Share of its flow at the block of the highest pressure that a leak has in each (B, N)."""
    pressure = np.array([s.head_m for s in states]) - model.elevation_m
    pressure = np.nan_to_num(pressure).clip(min=1.0)
    return np.asarray((pressure / pressure.max(axis=0)) ** LEAK_EXPONENT)
