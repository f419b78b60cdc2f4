"""The economic interval of surveys.

Formulas: Lambert & Lalonde 2005, Using practical predictions of economic intervention frequency,
IWA Leakage 2005 (from memory). No worked example of theirs is at hand: the figures here are
regression values, and the least cost is found by an independent minimisation with SciPy.
"""

from __future__ import annotations

import pytest
from scipy.optimize import minimize_scalar

from district.balance import (
    economic_losses_m3,
    survey_budget_currency,
    survey_interval_months,
    surveyed_percent,
)

COST, WORTH, RISE = 10_000.0, 0.10, 100.0


def test_interval_share_budget_and_losses() -> None:
    # Regression values: CI 10,000, CV 0.10, RR 100.
    months = survey_interval_months(COST, water_currency_m3=WORTH, rise_m3_d_year=RISE)
    assert float(months) == pytest.approx(28.09, abs=0.005)
    assert float(surveyed_percent(months)) == pytest.approx(42.72, abs=0.005)
    budget = survey_budget_currency(COST, interval_months=months)
    assert float(budget) == pytest.approx(4272.1, abs=0.05)
    losses = economic_losses_m3(budget, water_currency_m3=WORTH)
    assert float(losses) == pytest.approx(42_721, abs=0.5)
    # What is lost at that interval, directly: the printed 0.789 stands for 288 / 365.
    assert float(RISE * months / 24 * 365) == pytest.approx(42_719, abs=0.5)


@pytest.mark.parametrize(
    ("cost", "worth", "rise"),
    [(COST, WORTH, RISE), (500.0, 0.8, 12.0), (80_000.0, 0.35, 2_500.0), (2_000.0, 2.5, 0.5)],
)
def test_the_interval_costs_least(cost: float, worth: float, rise: float) -> None:
    def yearly(months: float) -> float:
        return cost * 12 / months + worth * rise * 365 * months / 24

    least = minimize_scalar(
        yearly, bounds=(0.01, 2_000.0), method="bounded", options={"xatol": 1e-6}
    )
    found = survey_interval_months(cost, water_currency_m3=worth, rise_m3_d_year=rise)
    # 0.789 is 288 / 365 rounded: 0.003 % of the root.
    assert float(found) == pytest.approx(least.x, rel=1e-4)
    assert yearly(float(found)) == pytest.approx(least.fun, rel=1e-8)
