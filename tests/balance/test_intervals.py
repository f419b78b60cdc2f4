"""The interval of surveys that costs least."""

from __future__ import annotations

import numpy as np
import pytest

from district.balance.intervals import (
    economic_losses_m3,
    survey_budget_currency,
    survey_interval_months,
    surveyed_percent,
)


@pytest.mark.parametrize(
    ("cost", "worth", "rise"),
    [(0, 1, 1), (1, 0, 1), (1, 1, 0), (1, 1, -5), (np.nan, 1, 1), (1, 1, np.nan)],
)
def test_no_interval_where_nothing_is_to_be_weighed(cost: float, worth: float, rise: float) -> None:
    found = survey_interval_months(cost, water_currency_m3=worth, rise_m3_d_year=rise)
    assert np.isnan(found)
    assert np.isnan(surveyed_percent(found))
    assert np.isnan(survey_budget_currency(100.0, interval_months=found))


def test_four_times_the_rise_halves_the_interval() -> None:
    found = survey_interval_months(100.0, water_currency_m3=1.0, rise_m3_d_year=np.array([1, 4]))
    assert found[0] == pytest.approx(2 * found[1])


def test_lost_water_costs_what_the_surveys_cost() -> None:
    budget = survey_budget_currency(600.0, interval_months=12.0)
    assert float(budget) == 600.0
    assert float(economic_losses_m3(budget, water_currency_m3=0.5)) == 1200.0
    assert np.isnan(economic_losses_m3(budget, water_currency_m3=0.0))
