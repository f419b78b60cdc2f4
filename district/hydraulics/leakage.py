"""What leaves at a node by its pressure: through holes and cracks, and to users short of it."""

from __future__ import annotations

from typing import Any

import numpy as np

from district.hydraulics.head_loss import GRAVITY_M_S2
from district.hydraulics.model import Openings, Reals, Service


def orifice_flow_l_s(diameter_mm: Any, pressure_m: Any, *, discharge: Any = 0.6) -> Reals:
    """Flow through a round hole: Q = Cd A sqrt(2 g h), Thornton, Sturm & Kunkel 2008, eq. 10.1.

    >>> round(float(orifice_flow_l_s(2.0, 50.99, discharge=0.53)), 4)
    0.0527
    """
    area_m2 = np.pi / 4.0 * (np.asarray(diameter_mm, dtype=float) / 1000.0) ** 2
    return np.asarray(_jet_l_s(discharge) * area_m2 * np.sqrt(_above(pressure_m)))


def leaked_l_s(openings: Openings, pressure_m: Any) -> Reals:
    """Leakage of each node (N) at its pressure (N); `powers_of` says by which law."""
    return np.asarray(sum(c * _above(pressure_m) ** n for c, n in powers_of(openings)))


def powers_of(openings: Openings) -> tuple[tuple[Reals, Reals], ...]:
    """The openings (N) as powers of pressure that add up: (L/s at 1 m, exponent) of each.

    The power law is one; openings of fixed and variable area are two, Q = Cd sqrt(2g) (A0 h^0.5 +
    m h^1.5) (May 1994; van Zyl & Cassa 2014, J Hydraul Eng 140(2), from memory).
    """
    if openings.form == "power":
        return ((openings.coefficient, openings.exponent),)
    jet = _jet_l_s(openings.discharge)
    one = np.ones(openings.area_m2.size)
    return ((jet * openings.area_m2, 0.5 * one), (jet * openings.slope_m, 1.5 * one))


def delivered_share(service: Service, pressure_m: Any) -> Reals:
    """Share of their demand that users get at a pressure; `Service` says the law.

    >>> delivered_share(Service(0.0, 16.0), [-1.0, 4.0, 20.0]).tolist()
    [0.0, 0.5, 1.0]
    """
    way_m = service.required_m - service.minimum_m
    share = (np.asarray(pressure_m, dtype=float) - service.minimum_m) / way_m
    return np.asarray(np.clip(share, 0.0, 1.0) ** service.exponent)


def _above(pressure_m: Any) -> Reals:
    return np.asarray(np.maximum(np.asarray(pressure_m, dtype=float), 0.0))


def _jet_l_s(discharge: Any) -> Any:
    """L/s for each m2 of hole at 1 m of pressure."""
    return 1000.0 * discharge * np.sqrt(2.0 * GRAVITY_M_S2)
