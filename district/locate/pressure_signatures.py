"""What a leak at each node of a zone would do to the loggers, and how far the model may be off."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from scipy.sparse import csr_array

from district.hydraulics import Model, State, head_sensitivity, solve
from district.hydraulics.model import Reals, Wholes
from district.hydraulics.water import Calibrated, Demands

PIPE_SPREAD = 0.1
"""Standard deviation of the logarithm of one pipe's roughness coefficient within its group, where
the groups are fitted (assumption, no source)."""
LEAK_EXPONENT = 1.0
"""Power of pressure by which a leak falls in the day (common practice: 1 for mixed pipes)."""
_SEED = 20_310_704


@dataclass(frozen=True, eq=False)
class Signatures:
    """B blocks of the day, G loggers, N nodes, K draws; a leak of q L/s at the stated size.

    sensitivity (B, G, N)
        m of head at each logger for each L/s more drawn at a node.
    share (B, N)
        of its stated size that a leak at the node has in the block, by pressure.
    by_size (B, G, N)
        m for each L/s of leak at a node, the zone's inflow being as measured.
    drawn_m (K, B, G, N)
        departures of the change of head from the middle one.
    """

    sensitivity: Reals
    share: Reals
    by_size: Reals
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
    draws_count: int,
) -> Signatures:
    """Change of head by node that a leak would make, with draws of what is not known.

    Parameters: `cell` the leak's zone, a row of `demands.use`; `middle_l_s`, `change_l_s` (B, N)
    draw halfway through the change and its change, the leak spread as the zone's use;
    `likely_share` (N) where the leak likely is, summing to 1: the state is taken with half of it
    there, so that the slope is that of the whole step and not of its first drop. The zone's
    inflow is measured, so a leak moves flow from the zone's use to its own place. Draws: roughness
    as calibrated and by pipe (`PIPE_SPREAD`), and each connection's share of its zone's use.
    """
    drawn = calibrated.drawn
    use = np.asarray(demands.use[[cell]].todense()).ravel()
    moved = flow_l_s / 2 * (likely_share - use)
    at = middle_l_s + moved
    states = [solve(drawn.model, row) for row in at]
    sensitivity = np.array([head_sensitivity(drawn.model, s, drawn.watch) for s in states])
    share = _leak_share(drawn.model, states)
    by_size = (sensitivity - (sensitivity @ use)[:, :, None]) * share[:, None, :]
    departures = [
        _departure(
            calibrated, demands, cell, k, at, states, change_l_s, sensitivity, by_size, share, flow_l_s
        )
        for k in range(draws_count)
    ]
    empty = np.zeros((0, *sensitivity.shape))
    return Signatures(sensitivity, share, by_size, np.array(departures) if departures else empty)


def _departure(
    calibrated: Calibrated,
    demands: Demands,
    cell: int,
    draw: int,
    at_l_s: Reals,
    states: list[State],
    change_l_s: Reals,
    sensitivity: Reals,
    by_size: Reals,
    share: Reals,
    flow_l_s: float,
) -> Reals:
    random = np.random.default_rng([_SEED, draw])
    drawn = calibrated.drawn
    base = drawn.model.roughness
    rough = calibrated.roughness[draw % len(calibrated.roughness)]
    rough = rough * np.exp(PIPE_SPREAD * random.standard_normal(len(base)))
    model = replace(drawn.model, roughness=rough)
    moved = _moved_use(drawn.tap, demands, random)
    use = np.asarray(demands.use[[cell]].todense()).ravel()
    own = use * moved
    own = own / own.sum() if own.sum() > 0 else use
    result = np.empty_like(sensitivity)
    for b, state in enumerate(states):
        at = at_l_s[b] * moved
        change = change_l_s[b] * moved
        # Within each cell the total is measured: what one connection draws less, others draw more.
        at, change = _same_totals(at, at_l_s[b], demands), _same_totals(change, change_l_s[b], demands)
        other = head_sensitivity(model, solve(model, at, start=state), drawn.watch)
        leak = (other - (other @ own)[:, None]) * share[b]
        known = (other @ change - sensitivity[b] @ change_l_s[b])[:, None]
        result[b] = flow_l_s * (leak - by_size[b]) + known
    return result


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


def nodes_of(pipe_link: Wholes, model: Model, order: Wholes, pipe: Wholes) -> tuple[Wholes, Wholes]:
    """Model nodes at the start and the end of each spot's pipe.

    Parameters: `order` rows of `network.pipes` sorted by pipe_id; `pipe` (S) positions in it.
    """
    link = pipe_link[order[pipe]]
    return model.start[link], model.end[link]
