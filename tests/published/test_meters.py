"""Published figures of flow meters, pulses, travel times and units.

Sources: ISO 4064-1:2014 / OIML R 49-1:2013 and EN 14154 as a meter maker's page on the measuring
instruments directive gives them (bmeters.com, seen: class 2, R = Q3/Q1, Q4 = 1.25 Q3 and its
example); class 1 and Q2/Q1 from memory. Travel times: the speed of sound as a maker of such meters
gives it (rbflowmeter.blogspot.com, 2017/12, seen), the velocity from memory. Units: Pint, an
independent library.
"""

from __future__ import annotations

import math

import numpy as np
import pandas as pd
import pint
import pytest

from district.balance.limits import resolution_deviation_l_s
from district.balance.meter_errors import CLASS_SHARES, Q2_OVER_Q1, error_l_s, meter_errors
from district.intake.devices import Device
from district.intake.flows import HOUR_US, flow
from district.intake.transit import difference_and_sum, path_velocity_m_s, sound_speed_m_s
from district.schema.inputs import Q4_OVER_Q3
from district.units import factor

IDS = pd.Index(["M"], dtype=object)


def error_share(flow_m3_h: float, **plate: float) -> float:
    said = {"q3_m3_h": 2.5, "ratio_r": 100.0, **plate}
    meters = pd.DataFrame({name: [value] for name, value in said.items()}, index=IDS)
    errors = meter_errors(IDS, pd.Series([2.0], index=IDS), meters)
    flow_l_s = np.array([flow_m3_h / 3.6])
    return float(error_l_s(flow_l_s, errors)[0] / flow_l_s[0])


@pytest.mark.parametrize(
    ("flow_l_h", "share"),
    # Seen: Q3 2.5 m³/h, R 100 gives Q1 25 L/h and Q4 3125 L/h; ±5 % below Q2, ±2 % from it.
    # Q2 = 1.6 Q1 = 40 L/h from memory.
    [(25, 0.05), (39.9, 0.05), (40.1, 0.02), (2500, 0.02), (3125, 0.02)],
)
def test_the_error_envelope_of_class_2(flow_l_h: float, share: float) -> None:
    assert error_share(flow_l_h / 1000, accuracy_class=2) == pytest.approx(share, rel=1e-6)
    assert error_share(flow_l_h / 1000) == pytest.approx(share, rel=1e-6)


@pytest.mark.parametrize(
    ("flow_l_h", "share"), [(25, 0.03), (39.9, 0.03), (40.1, 0.01), (3125, 0.01)]
)
def test_the_error_envelope_of_class_1(flow_l_h: float, share: float) -> None:
    # From memory: ±3 % below Q2, ±1 % from it.
    assert error_share(flow_l_h / 1000, accuracy_class=1) == pytest.approx(share, rel=1e-6)


@pytest.mark.parametrize(("ratio", "q1_l_h"), [(100, 25.0), (50, 50.0)])
def test_q1_by_the_ratio(ratio: float, q1_l_h: float) -> None:
    # Seen: R 100 gives 25 L/h, R 50 gives 50 L/h.
    meters = pd.DataFrame({"q3_m3_h": [2.5], "ratio_r": [float(ratio)]}, index=IDS)
    errors = meter_errors(IDS, pd.Series([2.0], index=IDS), meters)
    assert errors.q1_l_s[0] * 3600 == pytest.approx(q1_l_h)
    assert errors.q2_l_s[0] / errors.q1_l_s[0] == pytest.approx(Q2_OVER_Q1)


def test_overload_over_permanent_flow() -> None:
    # Seen: Q3 2.5 m³/h, Q4 3.125 m³/h.
    assert Q4_OVER_Q3 * 2.5 == 3.125
    assert CLASS_SHARES == {1: (0.03, 0.01), 2: (0.05, 0.02)}


def test_travel_times_of_the_worked_number() -> None:
    # Regression value: L 0.2 m, 45°, c 1480 m/s, v 1.0 m/s give td 135.0706 µs and
    # tu 135.1997 µs, 129.128 ns apart.
    length, angle, sound, velocity = 0.2, 45.0, 1480.0, 1.0
    along = velocity * math.cos(math.radians(angle))
    down, up = length / (sound + along), length / (sound - along)
    assert (down * 1e6, up * 1e6) == pytest.approx((135.0706, 135.1997), abs=5e-5)
    assert (up - down) * 1e9 == pytest.approx(129.128, abs=1e-3)
    difference, total = difference_and_sum(np.array([up]), np.array([down]))
    found = path_velocity_m_s(difference, path_m=length, angle_deg=angle)
    assert found[0] == pytest.approx(1.0, abs=1e-5)
    assert sound_speed_m_s(total, path_m=length)[0] == pytest.approx(1480.0, abs=1e-3)


def test_pulses_as_a_flow() -> None:
    # Regression value: 36 pulses of 10 L in 15 minutes are 1.44 m³/h.
    quarter = np.array([1, 2], dtype=np.int64) * (HOUR_US // 4)
    device = Device("M", "pulse", "meter", 0.01, resolution_m3=0.01, counts=True)
    found = flow(device, quarter, np.array([36.0, 36.0]), np.array([True, True]))
    np.testing.assert_allclose(found.value / 0.25, 1.44, rtol=1e-12)


def test_the_smallest_flow_a_pulse_shows_at_night() -> None:
    # Hand calculation: one pulse of 1000 L in 2 h is 0.139 L/s. As an uncertainty its standard
    # deviation is that over the root of 6: two counts cut to a pulse.
    smallest_l_s = 1000.0 / (2 * 3600)
    found = resolution_deviation_l_s(1.0, window_h=2.0)
    assert float(found) == pytest.approx(smallest_l_s / math.sqrt(6.0))


@pytest.mark.parametrize(
    ("unit", "to", "quantity", "by_pint"),
    [
        ("gal", "m3", "volume", ("gallon", "meter**3")),
        ("ft3", "m3", "volume", ("foot**3", "meter**3")),
        ("Ml", "m3", "volume", ("megaliter", "meter**3")),
        ("l", "m3", "volume", ("liter", "meter**3")),
        ("gpm", "l/s", "rate", ("gallon/minute", "liter/second")),
        ("m3/h", "l/s", "rate", ("meter**3/hour", "liter/second")),
        ("m3/d", "m3/h", "rate", ("meter**3/day", "meter**3/hour")),
        ("Ml/d", "l/s", "rate", ("megaliter/day", "liter/second")),
        ("in", "mm", "length", ("inch", "millimeter")),
        ("ft", "m", "length", ("foot", "meter")),
    ],
)
def test_units_against_pint(unit: str, to: str, quantity: str, by_pint: tuple[str, str]) -> None:
    theirs = pint.UnitRegistry().Quantity(1.0, by_pint[0]).to(by_pint[1]).magnitude
    assert factor(unit, to, quantity=quantity) == pytest.approx(theirs, rel=1e-12)


@pytest.mark.parametrize("unit", ["psi", "bar", "kPa"])
def test_pressures_against_pint(unit: str) -> None:
    # Pint's conventional centimetre of water is 98.0665 Pa.
    registry = pint.UnitRegistry()
    theirs = registry.Quantity(1.0, unit).to("cm_H2O").magnitude / 100
    assert factor(unit, "m", quantity="pressure") == pytest.approx(theirs, rel=1e-4)
