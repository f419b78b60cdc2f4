"""The year in which renewing a main costs least, and the discounting it rests on.

Formula: Shamir & Howard 1979, An analytic approach to scheduling pipe replacement, J AWWA 71(5)
248 (from memory). The paper's own example is not at hand: the figures are regression values, and
the least cost is found by an independent minimisation with SciPy.
"""

from __future__ import annotations

import numpy as np
import pytest
from scipy.integrate import quad
from scipy.optimize import minimize_scalar

from district.plan.ageing import discount_factors
from district.plan.best_year import threshold_rate_per_year, years_until
from district.plan.growth import growth_factor

R, CR, CB, N0, A = 0.05, 50_000.0, 2_000.0, 0.3, 0.08


def test_threshold_and_year() -> None:
    # Regression values: ln 1.05 x 50 000 / 2 000, and 17.533 years (catalogue, 11.3).
    threshold = threshold_rate_per_year(CR, CB, discount_share=R)
    assert float(threshold) == pytest.approx(1.21975, abs=5e-6)
    years = years_until("exponential", A, 40.0, rate_per_year=N0, threshold_per_year=threshold)
    assert float(years) == pytest.approx(17.533, abs=0.0005)


@pytest.mark.parametrize(
    ("form", "growth", "age", "rate", "renewal", "repair", "discount"),
    [
        ("exponential", A, 40.0, N0, CR, CB, R),
        # Growth of 0.05 to 0.15 a year is typical (the same paper, from memory).
        ("exponential", 0.05, 40.0, 0.1, 30_000.0, 5_000.0, 0.035),
        ("exponential", 0.15, 20.0, 0.02, 80_000.0, 8_000.0, 0.03),
        # By a power of age (Crow 1974, from memory) the same condition holds: what another year's
        # breaks cost is what putting off the renewal by a year saves.
        ("power", 1.5, 40.0, 0.1, 20_000.0, 4_000.0, 0.035),
        ("power", 0.7, 25.0, 0.04, 12_000.0, 5_000.0, 0.025),
    ],
)
def test_repairs_and_renewal_together_cost_least_then(
    form: str, growth: float, age: float, rate: float, renewal: float, repair: float,
    discount: float,
) -> None:  # fmt: skip
    interest = np.log1p(discount)

    def discounted(until: float) -> float:
        repairs, _ = quad(
            lambda t: (
                rate * float(growth_factor(form, growth, age, ahead_year=t)) * np.exp(-interest * t)
            ),
            0.0,
            until,
        )
        return repair * repairs + renewal * float(np.exp(-interest * until))

    least = minimize_scalar(discounted, bounds=(0.0, 100.0), method="bounded",
                            options={"xatol": 1e-5})  # fmt: skip
    threshold = threshold_rate_per_year(renewal, repair, discount_share=discount)
    years = float(years_until(form, growth, age, rate_per_year=rate, threshold_per_year=threshold))
    assert 1.0 < years < 99.0
    assert years == pytest.approx(least.x, abs=0.01)
    assert discounted(years) == pytest.approx(least.fun, rel=1e-9)


def test_discounting_is_that_of_annuities() -> None:
    # Closed forms: an annuity-immediate of n payments, (1 - (1 + i)^-n) / i, moved to the middle
    # of its years, and for continuous payment (1 - (1 + i)^-n) / ln(1 + i) (compound interest;
    # Kellison, The Theory of Interest, from memory).
    for interest, years in ((0.035, 40), (0.05, 10), (0.01, 100)):
        total = discount_factors(years, discount_share=interest).sum()
        immediate = (1 - (1 + interest) ** -years) / interest
        assert total == pytest.approx(immediate * (1 + interest) ** 0.5, rel=1e-12)
        continuous = (1 - (1 + interest) ** -years) / np.log1p(interest)
        # The middle of a year stands for the year up to the square of the rate over 24.
        assert total == pytest.approx(continuous, rel=np.log1p(interest) ** 2 / 20)
    assert discount_factors(25, discount_share=0.0).sum() == 25.0
