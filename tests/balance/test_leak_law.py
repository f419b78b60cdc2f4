"""How leakage follows pressure, in both forms."""

from __future__ import annotations

import numpy as np
import pytest

from district.balance.leak_law import (
    around,
    exponent_of,
    law_near,
    leakage_number_of,
    leakage_ratio,
    power_law,
    usual_law,
)
from district.settings import Pressure

AREAS = "fixed_and_variable_area"


def test_pressure_below_zero_counts_as_zero() -> None:
    assert power_law(1.0, pressure_m=-5.0, exponent=0.5) == 0.0
    assert leakage_ratio(-5.0, reference_m=40.0, exponent=1.0, form=AREAS) == 0.0


@pytest.mark.parametrize("exponent", [0.5, 0.7, 1.0, 1.3])
def test_leakage_number_and_exponent_answer_to_each_other(exponent: float) -> None:
    assert float(exponent_of(leakage_number_of(exponent))) == pytest.approx(exponent)


def test_exponents_that_no_areas_give_are_taken_as_the_ends() -> None:
    assert float(leakage_number_of(0.2)) == 0.0
    assert float(exponent_of(leakage_number_of(2.4))) == pytest.approx(1.5, abs=0.002)


def test_the_forms_touch_at_the_head_and_part_away_from_it() -> None:
    def both(pressure_m: float) -> tuple[float, float]:
        power = leakage_ratio(pressure_m, reference_m=40.0, exponent=1.1)
        areas = leakage_ratio(pressure_m, reference_m=40.0, exponent=1.1, form=AREAS, head_m=40.0)
        return float(power), float(areas)

    near, far = both(40.5), both(80.0)
    assert near[0] == pytest.approx(near[1], abs=1e-4)
    # Fixed openings fade beside variable ones as pressure grows: the local exponent rises.
    assert far[1] > far[0] * 1.01


def test_usual_law_is_that_of_the_settings() -> None:
    power = usual_law(Pressure())
    assert [float(e) for e in power.exponent] == [1.15, 0.5, 1.5]
    areas = usual_law(Pressure(form=AREAS))
    assert float(areas.exponent.value) == pytest.approx(1.15, abs=0.001)
    assert float(areas.exponent.low) == 0.5
    assert float(areas.exponent.high) == pytest.approx(1.49, abs=0.001)


def test_a_law_near_another_head_is_the_same_law() -> None:
    here = usual_law(Pressure(form=AREAS, leakage_number=1.0))
    there = law_near(here, np.array([20.0, 60.0]))
    # The leakage number is m h / A0: half of it at half the head.
    assert leakage_number_of(there.exponent.value) == pytest.approx([0.5, 1.5])
    for law in (here, there):
        ratio = leakage_ratio(
            30.0, reference_m=50.0, exponent=law.exponent.value, form=law.form, head_m=law.head_m
        )
        # Hand calculation: (0.75^0.5 + 0.75^1.5) / (1.25^0.5 + 1.25^1.5).
        assert np.atleast_1d(ratio) == pytest.approx(0.60246, abs=1e-5)
    power = law_near(usual_law(Pressure()), np.array([20.0, 60.0]))
    assert power.exponent.value.tolist() == [1.15, 1.15]


def test_causes_add_by_variance_on_their_own_side() -> None:
    value = np.array([10.0])
    found = around(
        value,
        [np.array([7.0]), np.array([11.0])],
        [np.array([14.0]), np.array([6.0])],
        [np.array([12.0]), np.array([11.0])],
    )
    assert found.low[0] == pytest.approx(10 - 5.0)
    assert found.high[0] == pytest.approx(10 + np.sqrt(1 + 16 + 4))
