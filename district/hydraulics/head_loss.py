"""Head lost along each link as a function of its flow, by formulas set up once for a model."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from district.hydraulics.friction import drag
from district.hydraulics.joined import odd_power
from district.hydraulics.model import Kind, Model, Reals

HAZEN_WILLIAMS = 10.667
"""h = 10.667 L Q^1.852 / (C^1.852 D^4.871) in m and m3/s; the constant is written from 10.51 to
10.91, and the published two-loop and Hanoi solutions agree with this one."""
FLOW_POWER, BORE_POWER = 1.852, 4.871
GRAVITY_M_S2 = 9.80665
"""Standard gravity (ISO 80000-4)."""
SLOWEST_M_S = 1e-4
"""Speed below which the power laws are joined to zero by a cubic, so that slopes stay above 0."""
LEAST_SLOPE = 1e-6
"""m of head per L/s in a valve that loses none: 0.1 mm at 100 L/s."""
_SLOWEST_PUMP_SHARE = 1e-4
"""The same as `SLOWEST_M_S` for a pump, as a share of its flow at no lift."""
_LONGEST_RUN_L_S = 1e6
"""Flow at no lift of a pump whose curve never comes down to it."""


class Losses(NamedTuple):
    """What the head loss of each of L links is made of, Q in L/s.

    head lost = coefficient Q^exponent + minor Q^2 + linear Q - lift, odd in Q but for the lift;
    under Darcy-Weisbach the first term of a pipe is per_drag x f Re^2, Re = reynolds x Q.
    joined_l_s: flow below which the powers are a cubic.
    """

    coefficient: Reals
    exponent: Reals
    minor: Reals
    linear: Reals
    lift_m: Reals
    joined_l_s: Reals
    per_drag: Reals
    reynolds: Reals
    roughness_share: Reals
    usual_l_s: Reals
    """Where a search starts: 0.3 m/s in a pipe, half the lift of a pump."""


class Lost(NamedTuple):
    """Head lost by link in m, and its slopes by flow (m per L/s) and by ln(roughness) (m)."""

    head_m: Reals
    slope: Reals
    by_log_roughness: Reals


def losses_of(model: Model) -> Losses:
    """The formulas of a model's links (L)."""
    pump = model.kind == Kind.PUMP
    bore_m = np.where(pump, 1.0, model.diameter_mm) / 1000.0
    area_l_s = np.pi / 4.0 * bore_m**2 * 1000.0  # L/s at 1 m/s
    length = np.where(pump, 0.0, model.length_m)
    minor = np.where(pump, 0.0, model.minor_k) / (2.0 * GRAVITY_M_S2 * area_l_s**2)
    coefficient, exponent = np.zeros(length.size), np.full(length.size, FLOW_POWER)
    per_drag = np.zeros(length.size)
    if model.formula == "hazen_williams":
        c = np.where(length > 0, model.roughness, 100.0)
        coefficient = HAZEN_WILLIAMS * length / (c**FLOW_POWER * bore_m**BORE_POWER)
        coefficient = coefficient * 1e-3**FLOW_POWER
    else:
        # f L/D v^2/2g with v = nu Re / D.
        per_drag = length * model.viscosity_m2_s**2 / (2.0 * GRAVITY_M_S2 * bore_m**3)
    shutoff, slope, power = (np.where(pump, model.pump[:, i], 1.0) for i in range(3))
    run_l_s = np.minimum((shutoff / np.maximum(slope, 1e-30)) ** (1.0 / power), _LONGEST_RUN_L_S)
    return Losses(
        np.where(pump, slope, coefficient),
        np.where(pump, power, exponent),
        minor,
        np.where((length > 0) & ~pump, 0.0, LEAST_SLOPE),
        np.where(pump, shutoff, 0.0),
        np.where(pump, _SLOWEST_PUMP_SHARE * run_l_s, SLOWEST_M_S * area_l_s),
        per_drag,
        bore_m / (area_l_s * model.viscosity_m2_s),
        np.where(length > 0, model.roughness, 0.0) / (bore_m * 1000.0),
        np.where(pump, run_l_s * 0.5 ** (1.0 / power), 0.3 * area_l_s),
    )


def head_lost(losses: Losses, flow_l_s: Reals) -> Lost:
    """Head lost at each link's flow (L), negative where the flow runs from end to start."""
    rubbed, steep = odd_power(flow_l_s, losses.exponent, losses.joined_l_s)
    rubbed, steep = rubbed * losses.coefficient, steep * losses.coefficient
    by_roughness = -FLOW_POWER * rubbed
    if losses.per_drag.any():
        re = losses.reynolds * np.abs(flow_l_s)
        by = drag(re, losses.roughness_share)
        rubbed = rubbed + losses.per_drag * by.drag * np.sign(flow_l_s)
        steep = steep + losses.per_drag * by.by_reynolds * losses.reynolds
        by_roughness = losses.per_drag * by.by_log_roughness * np.sign(flow_l_s)
    if losses.minor.any():
        bent, bend = odd_power(flow_l_s, 2.0, losses.joined_l_s)
        rubbed, steep = rubbed + losses.minor * bent, steep + losses.minor * bend
    return Lost(
        rubbed + losses.linear * flow_l_s - losses.lift_m,
        steep + losses.linear,
        np.where(losses.lift_m > 0, 0.0, by_roughness),
    )
