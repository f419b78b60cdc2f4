from __future__ import annotations

import numpy as np
import pytest

from district import units
from district.units import KNOWN_UNITS, SUFFIXES, factor, label_of, suffix_of

# NIST Special Publication 811 (2008), appendix B.8, conversion factors (from memory).
NIST = [
    ("gal", "m3", "volume", 3.785412e-3),
    ("ft3", "m3", "volume", 2.831685e-2),
    ("gpm", "l/s", "rate", 6.309020e-2),
    ("in", "mm", "length", 25.4),
    ("ft", "m", "length", 0.3048),
]


@pytest.mark.parametrize(("unit", "to", "quantity", "expected"), NIST)
def test_factors_agree_with_the_published_ones(
    unit: str, to: str, quantity: str, expected: float
) -> None:
    assert factor(unit, to, quantity=quantity) == pytest.approx(expected, rel=1e-6)


def test_pressure_is_metres_of_water() -> None:
    # Conventional metre of water 9.80665 kPa: 1 bar = 10.19716 m, NIST SP 811 B.8 (from memory).
    assert factor("bar", "m", quantity="pressure") == pytest.approx(10.19716, rel=1e-6)
    assert factor("m", "m", quantity="pressure") == 1.0


def test_what_is_asked_for_often_is_what_the_registry_makes_of_it() -> None:
    for (unit, to), told in units._OFTEN.items():
        made = units._registry().Quantity(1.0, unit).to(to).magnitude
        assert told == float(np.round(made, 15))


def test_an_unknown_unit_names_those_accepted() -> None:
    with pytest.raises(ValueError, match="one of l/s, l/h, m3/h, m3/d, Ml/d, gpm"):
        factor("bar", "l/s", quantity="rate")


@pytest.mark.parametrize("quantity", sorted(KNOWN_UNITS))
def test_every_unit_offered_converts(quantity: str) -> None:
    to = {"volume": "m3", "rate": "l/s", "pressure": "m", "length": "m"}[quantity]
    for unit in KNOWN_UNITS[quantity]:
        assert factor(unit, to, quantity=quantity) > 0


def test_the_longest_suffix_wins() -> None:
    assert suffix_of("leakage_l_connection_d_high") == "l_connection_d"
    assert label_of("flow_l_s") == "L/s"
    assert suffix_of("pipe_id") == ""


def test_suffixes_are_told_apart_longest_first() -> None:
    names = list(SUFFIXES)
    for n, suffix in enumerate(names):
        assert not any(suffix.endswith(f"_{s}") for s in names[:n]), suffix


def test_feet_of_water() -> None:
    # A foot is 0.3048 m (international yard and pound, 1959).
    assert factor("ft", "m", quantity="pressure") == pytest.approx(0.3048)
