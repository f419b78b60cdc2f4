"""Units: the suffix a column name ends with, its label for people, and conversion with Pint.

Every quantity carries its unit in its name (`flow_l_s`, `pressure_m`); limits add `_low`, `_high`.
`pressure_m` and `head_m` are metres of water column, 9.80665 kPa each (conventional metre of
water at 4 degC, ISO 80000-4 gives the pascal; the factor is the standard gravity).
"""

from __future__ import annotations

from functools import cache
from typing import Any

import numpy as np
import pint

SUFFIXES: dict[str, str] = {
    "m3_km_d": "m³/km/day",
    "l_connection_d": "L/connection/day",
    "l_property_h": "L/property/h",
    "litres_per_pulse": "L/pulse",
    "l_connection_h": "L/connection/h",
    "l_km_h": "L/km/h",
    "km_h": "km/h",
    "per_100_km_year": "per 100 km/year",
    "per_km_year": "1/km/year",
    "km_year": "km·years",
    "currency_m": "per m",
    "currency_h": "per h",
    "per_connection_year": "1/connection/year",
    "per_year": "1/year",
    "m3_year": "m³/year",
    "currency_year": "per year",
    "l_s_d": "L/s per day",
    "currency_m3": "per m³",
    "currency_km": "per km",
    "m3_d_year": "m³/day per year",
    "months": "months",
    "l_s": "L/s",
    "l_min": "L/min",
    "min": "min",
    "m2_s": "m²/s",
    "m2": "m²",
    "m_s": "m/s",
    "s_d": "s/day",
    "m3_h": "m³/h",
    "m3_d": "m³/day",
    "h_d": "h/day",
    "m3": "m³",
    "l": "L",
    "km": "km",
    "mm": "mm",
    "ms": "ms",
    "db": "dB",
    "m": "m",
    "s": "s",
    "h": "h",
    "d": "days",
    "us": "µs",
    "deg": "°",
    "share": "share",
    "percent": "%",
    "count": "",
    "currency": "",
    "year": "",
    "index": "",
}
"""Suffix of a name -> label shown to people. Longest suffix wins."""

WATER_VISCOSITY_M2_S = 1.3e-6
"""Kinematic, at 10 °C (from memory: 1.307e-6 in tables of the properties of water)."""
M3_PER_L_S_H = 3.6
"""Cubic metres that pass at one litre a second for an hour."""
_WRITTEN = {
    "m³": "m3",
    "L": "l",
    "m³/h": "m3/h",
    "m³/d": "m3/d",
    "m3/day": "m3/d",
    "L/s": "l/s",
    "L/h": "l/h",
    "ML/d": "Ml/d",
    "MLD": "Ml/d",
    "m_water": "mwater",
    "in": "inch",
    "gal": "gallon",
    "gpm": "gallon/minute",
    "ft3": "foot**3",
    "ft³": "foot**3",
}
_VOLUME_UNITS = ("m3", "l", "Ml", "gal", "ft3")
_RATE_UNITS = ("l/s", "l/h", "m3/h", "m3/d", "Ml/d", "gpm")
_PRESSURE_UNITS = ("m", "bar", "kPa", "psi", "ft")
_LENGTH_UNITS = ("m", "mm", "cm", "km", "in", "ft")
KNOWN_UNITS: dict[str, tuple[str, ...]] = {
    "volume": _VOLUME_UNITS,
    "rate": _RATE_UNITS,
    "pressure": _PRESSURE_UNITS,
    "length": _LENGTH_UNITS,
}
"""What a user may write for each quantity."""


_OFTEN = {("l/s", "m3/h"): 3.600000000000001}
"""What nearly every folder asks for, as `_registry` has it to the last digit, by which kept
readings are known: to make that takes as long as to read the layers."""


@cache
def _registry() -> pint.UnitRegistry[Any]:
    registry: pint.UnitRegistry[Any] = pint.UnitRegistry()
    # 'm3' is how the trade writes it; Pint needs it said.
    registry.define("m3 = meter ** 3")
    registry.define("Ml = 1000 * m3")
    registry.define("mwater = 9.80665 * kilopascal")
    registry.define("ftwater = 0.3048 * mwater")
    return registry


@cache
def factor(unit: str, to: str, *, quantity: str) -> float:
    """How many `to` one `unit` is.

    Parameters: `unit` as the user wrote it, `to` as we keep it ('m3', 'l/s', 'm', 'mm').
    Raises `ValueError` with the accepted units when `unit` is unknown or of another kind.
    """

    def written(text: str) -> str:
        if quantity == "pressure" and text in ("m", "ft"):
            return f"{text}water"
        return _WRITTEN.get(text, text)

    accepted = ", ".join(KNOWN_UNITS[quantity])
    own, ours = written(unit.strip()), written(to)
    if own == ours or (own, ours) in _OFTEN:
        return _OFTEN.get((own, ours), 1.0)
    try:
        scale = _registry().Quantity(1.0, own).to(ours).magnitude
    except Exception as reason:  # Pint raises many kinds; all mean the same to a user.
        raise ValueError(f"one of {accepted}") from reason
    return float(np.round(scale, 15))


@cache
def suffix_of(name: str) -> str:
    """The unit suffix of a column or parameter name, or '' if it has none.

    >>> suffix_of("inflow_l_s_low"), suffix_of("name")
    ('l_s', '')
    """
    bare = name.removesuffix("_low").removesuffix("_high")
    for suffix in SUFFIXES:
        if bare == suffix or bare.endswith(f"_{suffix}"):
            return suffix
    return ""


def label_of(name: str) -> str:
    """Unit label for people of a column name, '' when it has none."""
    return SUFFIXES.get(suffix_of(name), "")
