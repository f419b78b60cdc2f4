"""How breaks grow with age, held against SciPy's integration."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.integrate import quad

from district.break_rates import MEAN_AGE_YEARS
from district.plan.growth import (
    FORMS,
    LEAST_AGE_YEARS,
    growth_factor,
    growth_per_year,
    relative_rate,
    years_at_mean_age,
)


@pytest.mark.parametrize("form", FORMS)
@pytest.mark.parametrize("growth", [-0.02, 0.0, 1e-12, 0.04, 1.7])
@pytest.mark.parametrize(("start", "end"), [(0.0, 1.0), (0.0, 60.0), (33.5, 60.2), (80.0, 140.0)])
def test_years_at_mean_age_are_the_integral_of_the_rate(
    form: str, growth: float, start: float, end: float
) -> None:
    whole, _ = quad(
        lambda age: float(relative_rate(form, growth, age)), start, end, points=[LEAST_AGE_YEARS]
    )
    assert float(years_at_mean_age(form, growth, start, end)) == pytest.approx(whole, rel=1e-6)


@pytest.mark.parametrize("form", FORMS)
def test_the_rate_is_that_of_the_mean_age_at_the_mean_age(form: str) -> None:
    assert float(relative_rate(form, 0.7, MEAN_AGE_YEARS)) == 1.0


def test_an_interval_that_ends_before_it_begins_holds_nothing() -> None:
    assert years_at_mean_age("power", 1.0, np.array([30.0]), np.array([20.0])) == 0.0


def test_growth_of_the_very_old_does_not_overflow() -> None:
    assert float(growth_factor("exponential", 1.7, 900.0, ahead_year=1)) == pytest.approx(
        np.exp(1.7)
    )


def test_growth_by_year_at_an_age() -> None:
    assert float(growth_per_year("exponential", np.log(1.05), 12.0)) == pytest.approx(0.05)
    assert float(growth_per_year("power", 1.0, 40.0)) == pytest.approx(1 / 40)
    assert float(growth_per_year("none", 0.3, 40.0)) == 0.0
