"""What leaves at a node by its pressure: through holes and cracks, and to users short of it."""

from __future__ import annotations

from typing import Any

import numpy as np

from district.hydraulics.head_loss import GRAVITY_M_S2
from district.hydraulics.joined import one_sided_power
from district.hydraulics.model import Openings, Reals, Service

JOINED_M = 0.1
"""Pressure below which the outflow of an opening is a cubic down to zero."""
JOINED_SHARE = 0.01
"""Share of the way from no service to full service, at either end, over which it is a cubic."""


def orifice_flow_l_s(diameter_mm: Any, pressure_m: Any, *, discharge: Any = 0.6) -> Reals:
    """Flow through a round hole: Q = Cd A sqrt(2 g h), Thornton, Sturm & Kunkel 2008, eq. 10.1.

    >>> round(float(orifice_flow_l_s(2.0, 50.99, discharge=0.53)), 4)
    0.0527
    """
    area_m2 = np.pi / 4.0 * (np.asarray(diameter_mm, dtype=float) / 1000.0) ** 2
    head = np.maximum(np.asarray(pressure_m, dtype=float), 0.0)
    return np.asarray(1000.0 * discharge * area_m2 * np.sqrt(2.0 * GRAVITY_M_S2 * head))


def leaked(openings: Openings, pressure_m: Reals) -> tuple[Reals, Reals]:
    """Leakage of each node (N) in L/s at its pressure, and its slope in L/s per m.

    The power law, or openings of fixed and variable area, Q = Cd sqrt(2g) (A0 h^0.5 + m h^1.5)
    (May 1994; van Zyl & Cassa 2014, J Hydraul Eng 140(2), from memory).
    """
    if openings.form == "power":
        value, slope = one_sided_power(pressure_m, openings.exponent, JOINED_M)
        return openings.coefficient * value, openings.coefficient * slope
    scale = 1000.0 * openings.discharge * np.sqrt(2.0 * GRAVITY_M_S2)
    fixed, fixed_slope = one_sided_power(pressure_m, 0.5, JOINED_M)
    grown, grown_slope = one_sided_power(pressure_m, 1.5, JOINED_M)
    return (
        scale * (openings.area_m2 * fixed + openings.slope_m * grown),
        scale * (openings.area_m2 * fixed_slope + openings.slope_m * grown_slope),
    )


def delivered(service: Service, demand_l_s: Reals, pressure_m: Reals) -> tuple[Reals, Reals]:
    """What users (N) get of their demand at a pressure, in L/s, and its slope in L/s per m.

    `Service` says the law; within a hundredth of the way at either end a cubic rounds it off. What
    flows in at a node (a demand below zero) does not depend on pressure.
    """
    way_m = service.required_m - service.minimum_m
    share = (pressure_m - service.minimum_m) / way_m
    value, slope = one_sided_power(share, service.exponent, JOINED_SHARE)
    # Near full service: a cubic from the power law to 1 without slope.
    start = 1.0 - JOINED_SHARE
    low, low_slope = start**service.exponent, service.exponent * start ** (service.exponent - 1.0)
    t = np.clip((share - start) / JOINED_SHARE, 0.0, 1.0)
    rising = t * t * (3.0 - 2.0 * t)
    near = low + (1.0 - low) * rising + JOINED_SHARE * low_slope * t * (1.0 - t) ** 2
    near_slope = (1.0 - low) * 6.0 * t * (1.0 - t) / JOINED_SHARE + low_slope * (1.0 - t) * (
        1.0 - 3.0 * t
    )
    value, slope = np.where(share > start, near, value), np.where(share > start, near_slope, slope)
    drawn = demand_l_s > 0
    return (
        np.where(drawn, demand_l_s * value, demand_l_s),
        np.where(drawn, demand_l_s * slope / way_m, 0.0),
    )
