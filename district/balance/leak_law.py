"""How leakage follows pressure: the power law, and the form of fixed and variable areas."""

from __future__ import annotations

from typing import Any, Literal, NamedTuple

import numpy as np

from district.estimates import Array, Estimate, estimate
from district.settings import Pressure

REFERENCE_M = 50.0
"""Pressure the background components are stated at."""
FIXED, VARIABLE = 0.5, 1.5
"""Exponents of an opening that keeps its size, and of one that grows in proportion to pressure."""
MOST_VARIABLE = 0.999
"""Share of variable area that stands for all of it: the leakage number would be infinite."""
LEAST_LEFT = 0.25
"""Share of a pressure that its lower limit leaves at least: a zone with water has some."""
Form = Literal["power", "fixed_and_variable_area"]


class Law(NamedTuple):
    """How leakage follows pressure, by cell: `exponent` is the one found near `head_m`."""

    form: Form
    exponent: Estimate
    head_m: Array


def power_law(
    flow_l_s: Any, *, pressure_m: Any, reference_m: Any = REFERENCE_M, exponent: Any
) -> Array:
    """Leakage at `pressure_m` of a leak that gives `flow_l_s` at `reference_m`.

    Q1 = Q0 (P1/P0)^N1: Thornton, Sturm & Kunkel 2008, equation 10.4, p. 141. Pressure below zero
    counts as zero.

    >>> round(float(power_law(1.0, pressure_m=40, reference_m=50, exponent=1.5)), 3)
    0.716
    """
    ratio = np.maximum(np.asarray(pressure_m, dtype=float), 0.0) / reference_m
    return np.asarray(flow_l_s * ratio**exponent)


def exponent_of(leakage_number: Any) -> Array:
    """Exponent of the power law that agrees with a leakage number near its head.

    N1 = (1.5 LN + 0.5) / (LN + 1), LN = m h / A0 with the slope m of the area over the head h and
    the fixed area A0: May 1994; van Zyl & Cassa 2014, J Hydraul Eng 140(2) (from memory).

    >>> round(float(exponent_of(0.7)), 4)
    0.9118
    """
    number = np.asarray(leakage_number, dtype=float)
    return np.asarray(FIXED + number / (number + 1.0))


def leakage_number_of(exponent: Any) -> Array:
    """The leakage number that agrees with an exponent; those outside 0.5 to 1.5 as the ends.

    >>> round(float(leakage_number_of(1.15)), 2)
    1.86
    """
    share = _variable_share(exponent)
    return np.asarray(share / (1.0 - share))


def leakage_ratio(
    pressure_m: Any,
    *,
    reference_m: Any,
    exponent: Any,
    form: Form = "power",
    head_m: Any = REFERENCE_M,
) -> Array:
    """Leakage at `pressure_m` over that at `reference_m`, without a unit.

    As a power law, or as Q = Cd sqrt(2g) (A0 h^0.5 + m h^1.5) with fixed and variable areas whose
    leakage number at `head_m` agrees with `exponent` (May 1994; van Zyl & Cassa 2014, from
    memory). Pressure below zero counts as zero.

    >>> float(leakage_ratio(30, reference_m=40, exponent=0.9118, head_m=35,
    ...     form="fixed_and_variable_area").round(3))
    0.77
    """
    if form == "power":
        return power_law(1.0, pressure_m=pressure_m, reference_m=reference_m, exponent=exponent)
    variable = _variable_share(exponent)

    def flow(at_m: Any) -> Array:
        h = np.maximum(np.asarray(at_m, dtype=float), 0.0) / head_m
        return np.asarray((1.0 - variable) * h**FIXED + variable * h**VARIABLE)

    return np.asarray(flow(pressure_m) / flow(reference_m))


def usual_law(pressure: Pressure) -> Law:
    """The law of the settings, the same for all cells."""
    if pressure.form == "power":
        spread = estimate(pressure.exponent, pressure.exponent_low, pressure.exponent_high)
        return Law("power", spread, np.asarray(REFERENCE_M))
    numbers = estimate(
        pressure.leakage_number, pressure.leakage_number_low, pressure.leakage_number_high
    )
    head = np.asarray(pressure.leakage_number_head_m)
    return Law(pressure.form, Estimate(*(exponent_of(n) for n in numbers)), head)


def law_near(law: Law, head_m: Any) -> Law:
    """The same law told by its exponents near other heads (m, by cell)."""
    head = np.asarray(head_m, dtype=float)
    if law.form == "power":
        spread = Estimate(*(np.broadcast_to(e, head.shape) for e in law.exponent))
        return Law(law.form, spread, head)
    numbers = (leakage_number_of(e) * head / law.head_m for e in law.exponent)
    return Law(law.form, Estimate(*(exponent_of(n) for n in numbers)), head)


def around(value: Array, *causes: list[Array]) -> Estimate:
    """Limits about `value` from independent causes, each as the values at its two limits."""
    below, above = np.zeros(value.shape), np.zeros(value.shape)
    for ends in causes:
        least, most = np.minimum(*ends), np.maximum(*ends)
        below = below + np.maximum(value - least, 0.0) ** 2
        above = above + np.maximum(most - value, 0.0) ** 2
    return Estimate(value, value - np.sqrt(below), value + np.sqrt(above))


def _variable_share(exponent: Any) -> Array:
    return np.clip(np.asarray(exponent, dtype=float) - FIXED, 0.0, MOST_VARIABLE)
