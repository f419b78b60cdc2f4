"""Breaks of the years to come, of old mains and of new ones."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pandas as pd
import pytest

from district.break_rates import BREAKS_PER_100_MILES_YEAR, KM_100_MILES
from district.plan.ageing import (
    GROWS_BEYOND_YEARS,
    Ageing,
    ageing_of,
    discount_factors,
    new_level_index,
    new_rate_per_year,
    new_years,
    old_years,
    oldest_age_years,
)
from district.plan.growth import growth_factor, relative_rate
from district.schema.renewal_tables import PIPE_HISTORY
from district.schema.typed import typed
from tests.plan.made_town import mains_table, rates_of


def ageing(form: str, growth: float, ages: list[float], oldest: float = 1000.0) -> Ageing:
    return Ageing(form, np.array([growth, growth / 2]), np.array(ages), oldest)


@pytest.mark.parametrize(("form", "growth"), [("exponential", 0.05), ("power", 1.4), ("none", 0)])
def test_breaks_of_old_mains_are_summed_year_by_year(form: str, growth: float) -> None:
    found = old_years(
        ageing(form, growth, [10.0, 60.0]), horizon_years=30, discount_share=0.04, begin_year=3
    )
    for a, age in enumerate((10.0, 60.0)):
        for g, by in enumerate((growth, growth / 2)):
            by_hand = sum(
                float(growth_factor(form, by, age, ahead_year=3 + k)) * 1.04 ** -(k + 0.5)
                for k in range(30)
            )
            assert found[a, g] == pytest.approx(by_hand)


@pytest.mark.parametrize(("form", "growth"), [("exponential", 0.05), ("power", 1.4), ("none", 0)])
def test_breaks_of_a_new_main_are_few_at_first(form: str, growth: float) -> None:
    found = new_years(ageing(form, growth, [10.0]), horizon_years=40, discount_share=0.03)
    by_hand = sum(
        float(relative_rate(form, growth, k + 0.5)) * 1.03 ** -(k + 0.5) for k in range(40)
    )
    assert found[0] == pytest.approx(by_hand)
    flat = discount_factors(40, discount_share=0.03).sum()
    assert found[0] < flat or form == "none"


def test_where_old_mains_break_less_a_new_one_breaks_no_more_than_at_the_mean_age() -> None:
    assert (ageing("exponential", -0.04, [10.0]).new(0.5) == 1.0).all()


def test_growth_stays_beyond_the_oldest_age() -> None:
    held = ageing("exponential", 0.1, [50.0, 95.0, 120.0], oldest=100.0)
    ahead = held.factor(20.0)[:, 0]
    assert ahead == pytest.approx([np.exp(2.0), np.exp(0.5), 1.0])


def test_the_oldest_age_is_that_of_the_record_but_for_a_hundredth_of_it() -> None:
    history = pd.DataFrame(
        {
            "pipe_id": ["A", "B", "C", "D"],
            "installed_year": [1960.0, 1930.0, 1800.0, np.nan],
            "to_year": [2020.0] * 4,
            "exposure_km_year": [500.0, 499.0, 1.0, 50.0],
        }
    )
    rates = rates_of(mains_table(2, age_year=[20.0, 70.0]))
    assert oldest_age_years(replace(rates, history=typed(history, PIPE_HISTORY))) == 90.0
    # Without a record, of the mains in use.
    assert oldest_age_years(rates) == 70.0
    assert oldest_age_years(rates_of(mains_table(0))) == 0.0


def test_ages_of_the_rates() -> None:
    rates = rates_of(mains_table(4, age_year=[30.0, 12.04, np.nan, 30.0]), growth=0.03, draws=7)
    found, at = ageing_of(rates)
    assert found.age_years.tolist() == [0.0, 12.0, 30.0]
    assert at.tolist() == [2, 1, 0, 2]
    assert found.growth.shape == (8,)
    assert found.growth[0] == 0.03
    assert found.oldest_years == 30.0 + GROWS_BEYOND_YEARS


def test_a_new_main_breaks_at_the_published_rate_by_bore() -> None:
    # Folkman 2018, materials from memory: PVC 2.3 breaks per 100 miles a year; polyethylene is
    # taken as PVC (assumption). Bore to the power -0.3: common practice, no source.
    rate = new_rate_per_year([1000.0, 500.0], pd.Series([150.0, 300.0]))
    per_km = BREAKS_PER_100_MILES_YEAR["pvc"] / KM_100_MILES
    assert per_km == pytest.approx(0.01429, abs=5e-6)
    assert rate == pytest.approx([per_km, per_km / 2 * 2**-0.3])
    dearer = new_rate_per_year([1000.0, 500.0], pd.Series([150.0, 300.0]), level_index=1.5)
    assert dearer == pytest.approx(1.5 * rate)


def test_new_mains_break_as_their_material_does_in_the_district_or_as_the_district() -> None:
    terms = pd.DataFrame(
        {
            "term": ["district", "material", "material"],
            "level": ["", "pvc", "polyethylene"],
            "factor_index": [1.5, 3.0, 0.8],
        }
    )
    assert new_level_index(terms) == 0.8
    assert new_level_index(terms[:2]) == 1.5
    assert new_level_index(terms[:0]) == 1.0
