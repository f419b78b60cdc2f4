"""Ten years without renewal, by the list, and with twice the budget."""

from __future__ import annotations

from typing import Any

import numpy as np
import pandas as pd
import pytest

from district.plan.ageing import new_rate_per_year
from district.plan.benefit import benefit_currency
from district.plan.growth import relative_rate
from district.plan.mains import Mains, mains_of
from district.plan.runs import Runs, left_of, runs_of
from district.plan.selection import Chosen, choose
from district.plan.sites import site_numbers, sites_of
from district.plan.ten_years import YEARS, course_of, renewal_years
from district.renew_settings import Renew
from district.schema.renewal_tables import RENEWAL_YEARS
from tests.plan.made_town import YEAR, costs_of, mains_table, network_of, rates_of, row_of, town

RENEW = Renew()


def first_of(mains: Mains, runs: Runs, budget_currency: float, renew: Renew = RENEW) -> Chosen:
    benefit = benefit_currency(
        mains, horizon_years=renew.horizon_years, discount_share=renew.discount_share
    )
    return choose(
        runs,
        benefit,
        mains.real("renewal_currency"),
        renew=renew,
        budget_currency=budget_currency,
        site_currency=renew.site_currency,
    )


def years_of(
    mains: Mains, runs: Runs, budget_currency: float, renew: Renew = RENEW
) -> pd.DataFrame:
    first = {
        "list": first_of(mains, runs, budget_currency, renew),
        "twice": first_of(mains, runs, 2 * budget_currency, renew),
    }
    return renewal_years(mains, runs, first, renew=renew, budget_currency=budget_currency)


def small(**costs: Any) -> tuple[Mains, Runs]:
    # Of 40 and 50 years, the oldest age on record a hundred: all may grow for ten years.
    table = mains_table(3, age_year=[40.0, 50.0, 100.0], breaks_per_year=[0.1, 0.2, 0.0])
    mains = mains_of(rates_of(table), costs_of(table["pipe_id"], **costs))
    return mains, runs_of(mains.table, network_of(row_of([100.0] * 3)))


@pytest.fixture(scope="module")
def case() -> tuple[Mains, Runs, float]:
    rates, costs, network = town(600, draws=30)
    mains = mains_of(rates, costs)
    runs = runs_of(mains.table, network)
    return mains, runs, float(mains.real("renewal_currency").sum()) / 40


def test_without_renewal_breaks_grow_as_the_mains_age() -> None:
    mains, runs = small()
    years = years_of(mains, runs, 0.0)
    none = years[years["scenario"] == "none"]
    assert none["year"].tolist() == [YEAR + k for k in range(YEARS)]
    breaks = 0.3 * np.exp(0.04 * np.arange(YEARS))
    assert none["breaks_count"].to_numpy() == pytest.approx(breaks, rel=1e-6)
    assert none["breaks_currency"].to_numpy() == pytest.approx(5000.0 * breaks, rel=1e-6)
    assert none["leakage_m3"].to_numpy() == pytest.approx(200.0 * breaks, rel=1e-6)
    assert (none["renewed_m"] == 0).all()
    assert (none["spent_currency"] == 0).all()
    # No budget is no renewal, whatever the scenario is called.
    for scenario in ("list", "twice"):
        other = years[years["scenario"] == scenario].drop(columns="scenario")
        assert np.allclose(other, none.drop(columns="scenario"))


def test_works_are_done_by_the_middle_of_their_year() -> None:
    mains, runs = small()
    # P2 alone in the first year, and nothing else that the budget has room for in any other.
    years = years_of(mains, runs, 24_000.0)
    listed = years[years["scenario"] == "list"].reset_index(drop=True)
    assert listed["renewed_m"].tolist()[:2] == [100.0, 100.0]
    assert listed["spent_currency"].tolist()[:3] == [24_000.0, 24_000.0, 0.0]
    new = new_rate_per_year([100.0], pd.Series([150.0]))[0]

    def young(age: float) -> float:
        return float(new * relative_rate("exponential", 0.04, age))

    first = 0.1 + 0.5 * 0.2 + 0.5 * young(0.25)
    second = 0.5 * 0.1 * np.exp(0.04) + 0.5 * young(0.25) + young(1.0)
    third = young(1.0) + young(2.0)
    assert listed["breaks_count"].to_numpy()[:3] == pytest.approx([first, second, third], rel=1e-6)
    assert listed["breaks_currency"].to_numpy()[:3] == pytest.approx(
        [5000 * first, 5000 * second, 5000 * third], rel=1e-6
    )


def test_hidden_leakage_runs_until_it_is_found_or_the_main_renewed() -> None:
    mains, runs = small(hidden_leak_m3_d=[0.0, 4.0, 0.0], break_water_m3=0.0)
    renew = Renew(hidden_run_d=500.0)
    years = years_of(mains, runs, 24_000.0, renew).set_index(["scenario", "year"])
    leak = years["leakage_m3"]
    assert leak["none"].tolist()[:3] == pytest.approx([4 * 365.0, 4 * 135.0, 0.0])
    assert leak["list"].tolist()[:2] == pytest.approx([4 * 182.5, 0.0])
    low, high = years["leakage_m3_low"]["none"], years["leakage_m3_high"]["none"]
    assert low.iloc[0] == pytest.approx(0.7 * 4 * 365, rel=0.1)
    assert high.iloc[0] == pytest.approx(1.3 * 4 * 365, rel=0.1)


def test_budgets_are_kept_limits_hold_and_more_money_means_fewer_breaks(
    case: tuple[Mains, Runs, float],
) -> None:
    mains, runs, budget = case
    years = years_of(mains, runs, budget)
    assert list(years.columns) == list(RENEWAL_YEARS.names())
    assert len(years) == 3 * YEARS
    own = years.set_index(["scenario", "year"])
    assert (own.loc["list", "spent_currency"] <= budget).all()
    assert (own.loc["twice", "spent_currency"] <= 2 * budget).all()
    assert (own.loc["list", "spent_currency"] > 0.9 * budget).all()
    for name in ("breaks_count", "leakage_m3", "breaks_currency"):
        assert (years[f"{name}_low"] < years[name]).all()
        assert (years[name] < years[f"{name}_high"]).all()
    breaks = own["breaks_count"]
    assert (breaks["twice"] < breaks["list"]).all()
    assert (breaks["list"] < breaks["none"]).all()
    assert (breaks["none"].diff().iloc[1:] > 0).all()


def test_the_first_year_is_the_list_and_no_main_is_renewed_twice(
    case: tuple[Mains, Runs, float],
) -> None:
    mains, runs, budget = case
    first = first_of(mains, runs, budget)
    course = course_of(mains, runs, first, renew=RENEW, budget_currency=budget)
    assert ((course.year_of == 0) == first.renewed).all()
    assert course.spent_currency[0] == first.spent_currency
    cost, length = mains.real("renewal_currency"), mains.real("length_m")
    for year in range(YEARS):
        own = course.year_of[runs.row] == year
        left = left_of(runs, course.year_of[runs.row] >= year)
        chosen = course.year_of[left.row] == year
        count = int(site_numbers(left, chosen).max(initial=-1)) + 1
        spent = cost[runs.row][own].sum() + count * RENEW.site_currency
        assert course.spent_currency[year] == pytest.approx(spent)
        # Long enough, or all that is left there.
        sites = sites_of(left, site_least_m=RENEW.site_least_m)
        number = site_numbers(left, chosen)
        for n in range(count):
            here = np.flatnonzero(number == n)
            assert 0 <= sites.reach[here[0]] <= here[-1]
    assert length[course.year_of < YEARS].sum() > 0


def test_later_years_are_chosen_at_the_rates_of_then() -> None:
    # The breaks of P3 grow on; those of P1 and P2 come to the oldest age on record. Now P2 is worth
    # a little more than P3, a year later less.
    table = mains_table(3, age_year=[100.0, 100.0, 50.0], length_m=[900.0, 100.0, 100.0])
    costs = costs_of(table["pipe_id"])
    horizon = {"horizon_years": RENEW.horizon_years, "discount_share": RENEW.discount_share}
    alike = benefit_currency(mains_of(rates_of(table), costs), **horizon)
    table["breaks_per_year"] = [0.5, 0.2, 0.99 * 0.2 * alike[1] / alike[2]]
    mains = mains_of(rates_of(table), costs)
    worth = benefit_currency(mains, **horizon)
    assert worth[0] > worth[1] > worth[2]
    runs = runs_of(mains.table, network_of(row_of([100.0] * 3)))
    first = first_of(mains, runs, 24_000.0)
    course = course_of(mains, runs, first, renew=RENEW, budget_currency=24_000.0)
    assert course.year_of.tolist() == [0, 2, 1]


def test_hidden_leakage_found_meanwhile_is_no_reason_to_renew_later() -> None:
    hidden = [0.0, 3000.0, 0.0]
    rates = [0.5, 0.2, 0.21]
    table = mains_table(3, breaks_per_year=rates)
    mains = mains_of(rates_of(table), costs_of(table["pipe_id"], hidden_currency=hidden))
    runs = runs_of(mains.table, network_of(row_of([100.0] * 3)))
    first = first_of(mains, runs, 24_000.0)
    for run_d, order in ((180.0, [0, 2, 1]), (3000.0, [0, 1, 2])):
        renew = Renew(hidden_run_d=run_d)
        course = course_of(mains, runs, first, renew=renew, budget_currency=24_000.0)
        assert course.year_of.tolist() == order


def test_a_budget_for_everything_renews_everything_that_saves_in_the_first_year() -> None:
    mains, runs = small()
    years = years_of(mains, runs, 1e6)
    listed = years[years["scenario"] == "list"]
    assert listed["renewed_m"].tolist() == [200.0] + [0.0] * 9
