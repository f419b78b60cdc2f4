"""The year in which renewal costs least. The formula itself: tests/published/test_renewal_year."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest

from district.plan.best_year import (
    BEYOND,
    NO_DISCOUNT,
    NOT_SHOWN,
    NOT_WITHIN,
    NOW,
    TAKEN_NOT,
    best_years,
    threshold_rate_per_year,
    years_until,
)
from district.plan.growth import growth_factor
from district.plan.mains import Mains, mains_of
from tests.plan.made_town import YEAR, costs_of, mains_table, rates_of

DISCOUNT = 0.035


def mains(*rates: float, costs: dict[str, Any] | None = None, **growth: Any) -> Mains:
    # One old main, renewed already but for its age: the others may grow for long.
    count = len(rates)
    ages = [30.0] * (count - 1) + [150.0]
    table = mains_table(count, breaks_per_year=list(rates), age_year=ages)
    return mains_of(rates_of(table, **growth), costs_of(table["pipe_id"], **(costs or {})))


def test_years_notes_and_limits() -> None:
    # Threshold: ln 1.035 x 20 000 / 5 000 = 0.1376 breaks a year (regression value).
    found = best_years(mains(0.4, 0.05, 1e-5, 0.05), discount_share=DISCOUNT)
    assert found["best_note"].tolist() == [NOW, "", NOT_WITHIN, BEYOND]
    years = np.log(0.1376056 / 0.05) / 0.04
    assert found["best_year"].tolist()[:2] == [YEAR, YEAR + round(years)]
    assert np.isnan(found["best_year"][2])
    told = found.dropna()
    assert (told["best_year_low"] <= told["best_year"]).all()
    assert (told["best_year"] <= told["best_year_high"]).all()
    assert told["best_year_low"].min() >= YEAR
    assert told["best_year_high"].max() <= YEAR + 100
    assert told["best_year_low"][1] < told["best_year_high"][1]


@pytest.mark.parametrize(
    "growth", [{"growth": 0.01, "spread": 0.02}, {"growth": -0.02}, {"form": "none", "growth": 0.0}]
)
def test_where_growth_is_not_shown_no_year_is_told(growth: dict[str, Any]) -> None:
    found = best_years(mains(0.4, 0.05, **growth), discount_share=DISCOUNT)
    why = TAKEN_NOT if growth.get("form") == "none" else NOT_SHOWN
    assert (found["best_note"] == why).all()
    assert found[["best_year", "best_year_low", "best_year_high"]].isna().all(axis=None)


def test_without_a_discount_rate_no_year_is_told() -> None:
    found = best_years(mains(0.4, 0.05), discount_share=0.0)
    assert (found["best_note"] == NO_DISCOUNT).all()


def test_breaks_that_cost_nothing_or_never_come_are_no_reason_to_renew() -> None:
    nothing = mains(0.4, 0.05, costs={"break_currency": [0.0, 5000.0]})
    assert best_years(nothing, discount_share=DISCOUNT)["best_note"][0] == NOT_WITHIN
    assert best_years(mains(0.0, 0.05), discount_share=DISCOUNT)["best_note"][0] == NOT_WITHIN


def test_by_a_power_of_age_the_rate_reaches_the_threshold_in_the_year_told() -> None:
    by_power = mains(0.02, 0.05, form="power", growth=1.8, spread=0.1)
    found = best_years(by_power, discount_share=DISCOUNT)
    years = float(found["best_year"][0]) - YEAR
    threshold = threshold_rate_per_year(20_000.0, 5000.0, discount_share=DISCOUNT)
    reached = 0.02 * growth_factor("power", 1.8, 30.0, ahead_year=years)
    assert float(reached) == pytest.approx(float(threshold), rel=0.03)


@pytest.mark.parametrize("form", ["exponential", "power"])
def test_years_until_a_rate_is_reached(form: str) -> None:
    for age, growth, rate, aim in ((40.0, 0.05, 0.1, 0.3), (1.0, 1.3, 0.2, 0.1), (0.0, 2.0, 1, 2)):
        years = years_until(form, growth, age, rate_per_year=rate, threshold_per_year=aim)
        if years > 0:
            grown = rate * growth_factor(form, growth, age, ahead_year=float(years))
            assert float(grown) == pytest.approx(aim)
        else:
            assert aim <= rate


def test_years_where_nothing_grows_or_costs() -> None:
    def until(form: str, growth: float, rate: float, aim: float) -> float:
        return float(years_until(form, growth, 40.0, rate_per_year=rate, threshold_per_year=aim))

    assert until("exponential", 0.0, 0.1, 0.3) == np.inf
    assert until("none", 0.0, 0.4, 0.3) == -np.inf
    assert until("power", -1.0, 0.1, 0.3) == np.inf
    assert until("exponential", 0.05, 0.0, 0.3) == np.inf
    assert until("exponential", 0.05, 0.1, np.inf) == np.inf
    assert until("exponential", 0.05, 0.1, 0.0) == -np.inf
    assert until("power", 0.001, 0.1, 0.9) > 1e6
    assert threshold_rate_per_year(100.0, 0.0, discount_share=0.05) == np.inf


def test_without_draws_the_limits_are_the_year() -> None:
    found = best_years(mains(0.05, 0.05, draws=0), discount_share=DISCOUNT)
    assert (found["best_year"] == found["best_year_low"]).all()
    assert (found["best_year"] == found["best_year_high"]).all()
