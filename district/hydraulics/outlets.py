"""Outflows that depend on pressure, each as a flow that loses head, like a pipe to the open."""

from __future__ import annotations

from enum import IntEnum
from typing import NamedTuple

import numpy as np

from district.hydraulics.joined import odd_power
from district.hydraulics.leakage import powers_of
from district.hydraulics.model import Flags, Model, Openings, Reals, Service, Wholes

JOINED_M = 1e-3
"""Pressure below which an outflow is joined to zero by a cubic, so that slopes stay finite."""


LEAST_POWER = 1.0 / 3.0
"""Exponents of pressure from here down cannot be joined to zero by a rising cubic; surveys found
0.36 and more (Thornton, Sturm & Kunkel 2008, Table 10.9)."""


class Runs(IntEnum):
    """What an outlet does."""

    DRY = 0
    PARTLY = 1
    FULLY = 2
    """It gives all that is wanted."""


class Outlets(NamedTuple):
    """K outflows: q = coefficient (head - zero_m)^power, at most `most_l_s`; nothing below zero.

    node (K); is_leak (K): of an opening, else of users.
    """

    node: Wholes
    coefficient: Reals
    power: Reals
    zero_m: Reals
    most_l_s: Reals
    is_leak: Flags


def outlets_of(
    model: Model,
    demand_l_s: Reals,
    openings: Openings | None,
    service: Service | None,
    reached: Flags,
) -> Outlets:
    """Every outflow by pressure at the nodes (N) that are `reached`.

    Demands below zero flow in whatever the pressure; they are no outlets. Raises `ValueError` for
    openings that would let water in, and for exponents of `LEAST_POWER` and less.
    """
    parts: list[Outlets] = []
    level = model.elevation_m
    for coefficient, power in powers_of(openings) if openings is not None else ():
        if (coefficient < 0).any() or (power[coefficient > 0] <= LEAST_POWER).any():
            raise ValueError("openings: expected none below 0, exponents above 1/3")
        at = np.flatnonzero(reached & (coefficient > 0))
        endless, leak = np.full(at.size, np.inf), np.ones(at.size, dtype=bool)
        parts.append(Outlets(at, coefficient[at], power[at], level[at], endless, leak))
    if service is not None:
        if service.exponent <= LEAST_POWER or service.required_m <= service.minimum_m:
            raise ValueError("service: expected an exponent above 1/3, required_m above minimum_m")
        at = np.flatnonzero(reached & (demand_l_s > 0))
        most, leak = demand_l_s[at], np.zeros(at.size, dtype=bool)
        power = np.full(at.size, service.exponent)
        coefficient = most / (service.required_m - service.minimum_m) ** power
        parts.append(Outlets(at, coefficient, power, level[at] + service.minimum_m, most, leak))
    none = (np.zeros(0, dtype=np.int64), *(np.zeros(0) for _ in range(4)), np.zeros(0, dtype=bool))
    return Outlets(*(np.concatenate(column) for column in zip(none, *parts, strict=True)))


def at_heads(outlets: Outlets, head_m: Reals) -> tuple[Reals, Wholes]:
    """What each outlet (K) gives at the heads of the nodes (N), and what it does there."""
    above = head_m[outlets.node] - outlets.zero_m
    flow = outlets.coefficient * np.maximum(above, 0.0) ** outlets.power
    runs = np.where(
        above <= 0, Runs.DRY, np.where(flow < outlets.most_l_s, Runs.PARTLY, Runs.FULLY)
    )
    return np.minimum(flow, outlets.most_l_s), runs


def head_needed(outlets: Outlets, flow_l_s: Reals) -> tuple[Reals, Reals]:
    """Head at which each outlet (K) gives its flow (K), and its slope in m per L/s."""
    joined = outlets.coefficient * JOINED_M**outlets.power
    rise, slope = odd_power(flow_l_s / joined, 1.0 / outlets.power, 1.0)
    return outlets.zero_m + JOINED_M * rise, JOINED_M * slope / joined


def turned(outlets: Outlets, runs: Wholes, flow_l_s: Reals, head_m: Reals) -> tuple[Reals, Wholes]:
    """Flows and doings (K) once those beyond their ends stop there, and others leave theirs.

    One that was dry starts with half of what its pressure would give.
    """
    wet, does = at_heads(outlets, head_m)
    now = np.where((runs == Runs.PARTLY) & (flow_l_s < 0), Runs.DRY, runs)
    now = np.where((runs == Runs.PARTLY) & (flow_l_s > outlets.most_l_s), Runs.FULLY, now)
    leaves = (runs != Runs.PARTLY) & (does != runs)
    now = np.where(leaves, Runs.PARTLY, now)
    flow = np.where(leaves & (runs == Runs.DRY), 0.5 * wet, flow_l_s)
    flow = np.where(now == Runs.DRY, 0.0, np.where(now == Runs.FULLY, outlets.most_l_s, flow))
    return flow, now
