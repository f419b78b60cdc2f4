"""Heads and flows of a drawn zone in truth: solved hours, and how single hours depart from them."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from district.hydraulics import Openings, State, head_sensitivity, pattern_of, solve
from district.hydraulics.model import Reals, Wholes
from district.simulate.leak_trial_zone import TrueZone

_NIGHT = (2, 3)


@dataclass(frozen=True, eq=False)
class Hours:
    """R solved hours: head_m (R, W) where it is watched, sensitivity (R, W, N + K) to what is
    drawn at the nodes, meter_l_s (R, meters), leak_l_s (R, K), and the states themselves."""

    head_m: Reals
    sensitivity: Reals
    meter_l_s: Reals
    leak_l_s: Reals
    states: tuple[State, ...]


def leaking(zone: TrueZone, use_l_s: Reals, leaks: Any, flow_l_s: Reals) -> Openings:
    """The openings with `leaks` (numbers) open, each passing its flow by night, as if alone.

    `use_l_s` (R, N) begins with the hours of a weekday.
    """
    night = _padded(zone, use_l_s[list(_NIGHT)].mean(axis=0))
    state = solve(zone.model, night, openings=zone.background)
    at = zone.leak_node[leaks]
    pressure = (state.head_m - zone.model.elevation_m)[at].clip(min=1.0)
    coefficient, exponent = (
        a.copy() for a in (zone.background.coefficient, zone.background.exponent)
    )
    coefficient[at] = flow_l_s / pressure ** zone.exponent[leaks]
    exponent[at] = zone.exponent[leaks]
    return replace(zone.background, coefficient=coefficient, exponent=exponent)


def solved_hours(
    zone: TrueZone, use_l_s: Reals, openings: Openings, *, near: Hours | None = None
) -> Hours:
    """Solve each reference hour exactly: `use_l_s` (R, N); `near`, the same hours otherwise."""
    model, watch = zone.model, zone.watch
    pattern = pattern_of(model)
    states: list[State] = []
    for row, use in enumerate(use_l_s):
        start = near.states[row] if near else states[-1] if states else None
        state = solve(model, _padded(zone, use), openings=openings, start=start, pattern=pattern)
        states.append(state)
    felt = [head_sensitivity(model, s, watch, openings=openings, pattern=pattern) for s in states]
    return Hours(
        np.stack([watch @ s.head_m for s in states]),
        np.stack(felt),
        np.stack([s.flow_l_s[zone.meter_link] for s in states]),
        np.stack([s.leakage_l_s[zone.leak_node] for s in states]),
        tuple(states),
    )


def single_hours(hours: Hours, reference: Wholes, departure_l_s: Reals) -> tuple[Reals, Reals]:
    """Heads at the loggers (T, G) and flows of the zone meters (T, meters) of single hours.

    Parameters: `reference` (T) rows of `hours`; `departure_l_s` (T, N), what is drawn beyond the
    use of that row. Heads by first order about the solved hour. Flows of several meters share by
    the slope of each feed and make up inflow exactly: use, departure and leakage together, the
    leakage being that of the solved hour.
    """
    meters, nodes = hours.meter_l_s.shape[1], departure_l_s.shape[1]
    head = hours.head_m[reference].copy()
    for row in np.unique(reference):
        own = reference == row
        head[own] += departure_l_s[own] @ hours.sensitivity[row, :, :nodes].T
    usual = hours.meter_l_s[reference]
    more = departure_l_s.sum(axis=1, keepdims=True)
    loggers = head.shape[1] - 2 * meters
    if meters == 1:
        return head[:, :loggers], usual + more
    drop, usual_drop = (
        h[:, loggers::2] - h[:, loggers + 1 :: 2] for h in (head, hours.head_m[reference])
    )
    # By a power of 1 / 1.852 of the loss in the feed (Hazen-Williams).
    own = usual / 1.852 * (drop - usual_drop) / usual_drop
    return head[:, :loggers], usual + own + (more - own.sum(axis=1, keepdims=True)) / meters


def _padded(zone: TrueZone, use_l_s: Reals) -> Reals:
    return np.concatenate([use_l_s, np.zeros(len(zone.leak_node))])
