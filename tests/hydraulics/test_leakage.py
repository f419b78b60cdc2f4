"""Tests of `district.hydraulics.leakage`; hole sizes and exponents in `published/`."""

from __future__ import annotations

import numpy as np
import pytest

from district.hydraulics import Openings, Service, delivered_share, leaked_l_s, orifice_flow_l_s
from district.hydraulics.leakage import powers_of

NOTHING = np.zeros(1)


def test_no_pressure_no_leakage() -> None:
    opened = Openings("power", np.ones(3), np.full(3, 0.5), np.zeros(3), np.zeros(3))
    assert leaked_l_s(opened, [-5.0, 0.0, 4.0]).tolist() == [0.0, 0.0, 2.0]
    assert orifice_flow_l_s(5.0, [-1.0, 0.0]).tolist() == [0.0, 0.0]


def test_a_hole_that_keeps_its_size_is_an_orifice() -> None:
    """A round hole of 5 mm as an opening of fixed area."""
    area = np.pi / 4 * np.array([0.005]) ** 2
    opened = Openings("fixed_and_variable_area", NOTHING, NOTHING, area, NOTHING, discharge=0.6)
    assert leaked_l_s(opened, 40.0) == pytest.approx(orifice_flow_l_s([5.0], 40.0))


def test_an_area_that_grows_with_pressure_adds_to_the_fixed_one() -> None:
    opened = Openings(
        "fixed_and_variable_area", NOTHING, NOTHING, np.array([1e-4]), np.array([2e-6])
    )
    right = 1000 * 0.6 * np.sqrt(2 * 9.80665) * (1e-4 * 30**0.5 + 2e-6 * 30**1.5)
    assert leaked_l_s(opened, 30.0) == pytest.approx([right])
    assert len(powers_of(opened)) == 2


def test_users_get_less_as_pressure_falls() -> None:
    service = Service(minimum_m=5.0, required_m=21.0, exponent=0.5)
    assert delivered_share(service, [0.0, 5.0, 9.0, 21.0, 60.0]).tolist() == [0, 0, 0.5, 1, 1]
