"""What the solver takes and gives: arrays by node and by link, in internal units."""

from __future__ import annotations

from dataclasses import dataclass
from enum import IntEnum
from typing import Any, Literal

import numpy as np

from district.units import WATER_VISCOSITY_M2_S

Reals = np.ndarray[Any, np.dtype[np.float64]]
Wholes = np.ndarray[Any, np.dtype[np.int64]]
Flags = np.ndarray[Any, np.dtype[np.bool_]]

Formula = Literal["hazen_williams", "darcy_weisbach"]
LeakForm = Literal["power", "fixed_and_variable_area"]


class Kind(IntEnum):
    """What a link is."""

    PIPE = 0
    PUMP = 1
    CHECK = 2
    """A valve that lets water through from start to end only."""
    REDUCING = 3
    """A valve that holds `setting_m` of pressure at its end, and lets nothing back."""


@dataclass(frozen=True, eq=False)
class Model:
    """A network as the solver takes it: N nodes, L links.

    node_id (N), elevation_m (N)
    fixed_head_m (N)
        head held by a source or tank; NaN at a junction, where it is sought.
    link_id (L), start (L), end (L)
        ends as positions of nodes; flow from start to end is positive.
    kind (L)
        `Kind`. A valve that is a link of its own has length 0 and a bore.
    length_m, diameter_mm (L)
    roughness (L)
        Hazen-Williams C, or absolute roughness in mm where `formula` is darcy_weisbach.
    minor_k (L)
        minor-loss coefficient: head lost is minor_k v^2 / 2g.
    is_open (L)
        False: shut, nothing passes.
    setting_m (L)
        pressure a reducing valve holds at its end; NaN elsewhere.
    pump (L, 3)
        head lifted = shutoff_m - slope Q^power with Q in L/s, slope from 0, power between 0 and
        3; NaN elsewhere.
    viscosity_m2_s
        of the water, for darcy_weisbach.
    """

    node_id: Any
    elevation_m: Reals
    fixed_head_m: Reals
    link_id: Any
    start: Wholes
    end: Wholes
    kind: Wholes
    length_m: Reals
    diameter_mm: Reals
    roughness: Reals
    minor_k: Reals
    is_open: Flags
    setting_m: Reals
    pump: Reals
    formula: Formula = "hazen_williams"
    viscosity_m2_s: float = WATER_VISCOSITY_M2_S


@dataclass(frozen=True, eq=False)
class Openings:
    """Leakage at the nodes (N), by pressure; nothing below zero pressure.

    power: coefficient_l_s x pressure_m^exponent, exponents above 1/3.
    fixed_and_variable_area: discharge x sqrt(2 g p) x (area_m2 + slope_m x p), `coefficient` being
    unused.
    """

    form: LeakForm
    coefficient: Reals
    exponent: Reals
    area_m2: Reals
    slope_m: Reals
    discharge: float = 0.6


@dataclass(frozen=True)
class Service:
    """Demand that falls with pressure: none at `minimum_m`, all from `required_m` on, between by
    the power `exponent` of the share of the way (Wagner, Shamir & Marks 1988, from memory).

    The exponent is above 1/3."""

    minimum_m: float = 0.0
    required_m: float = 15.0
    exponent: float = 0.5


@dataclass(frozen=True, eq=False)
class State:
    """A steady state: by node (N) and link (L).

    head_m (N)
        NaN where `reached` is False.
    flow_l_s (L), demand_l_s (N; delivered), leakage_l_s (N)
    reached (N)
        False where no open way leads to a source: nothing is delivered there.
    iterations_count, factorisations_count
    mass_residual_l_s, energy_residual_m
        the largest over nodes and links.
    """

    head_m: Reals
    flow_l_s: Reals
    demand_l_s: Reals
    leakage_l_s: Reals
    reached: Flags
    iterations_count: int
    factorisations_count: int
    mass_residual_l_s: float
    energy_residual_m: float
