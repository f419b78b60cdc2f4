"""What the breaks of a main are worth over the years to come, as it ages, and those of a new one.

Money is discounted to the start of the year of the plan; a year's breaks fall in its middle.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
import pandas as pd

from district.break_rates import BORE_POWER, bore_log, mains_rate_per_km_year
from district.plan.growth import growth_factor, relative_rate
from district.plan.runs import Reals, Wholes
from district.plan.terms import TERM_WORDS
from district.renewal_results import PipeRates

GROWS_BEYOND_YEARS = 10.0
"""Breaks grow with age until so many years beyond the oldest age on record, then stay. Assumption:
a growth fitted to younger pipes says nothing of older ones, and would run away in a long
horizon."""
_OLDEST_SHARE = 0.99
"""Of the length by years watched: younger pipes than the oldest age on record hold so much."""
NEW_MATERIAL = "polyethylene"
"""What a main is renewed with. Assumption."""


@dataclass(frozen=True, eq=False)
class Ageing:
    """How breaks grow with age: `form`; growth (G, the first the estimate, then the draws); and
    ages (U, rising) that mains have in the year of the plan, up to `oldest_years` growing."""

    form: str
    growth: Reals
    age_years: Reals
    oldest_years: float

    def factor(self, ahead_year: float) -> Reals:
        """By how much mains of each age break more some years ahead: shape (U, G)."""
        until = np.maximum(self.oldest_years - self.age_years, 0.0)
        ahead: Any = np.minimum(ahead_year, until)[:, None]
        found = growth_factor(self.form, self.growth, self.age_years[:, None], ahead_year=ahead)
        return np.broadcast_to(found, (len(self.age_years), len(self.growth)))

    def new(self, age_year: float) -> Reals:
        """Rate of a new main at this age over the one at the mean age: shape (G). Where older mains
        break less, a new one is not taken to break more than that."""
        return np.asarray(relative_rate(self.form, np.maximum(self.growth, 0.0), age_year))


def ageing_of(rates: PipeRates) -> tuple[Ageing, Wholes]:
    """How the mains of the rates age, and the place of each main's age among the ages, shape
    (N)."""
    ages = np.nan_to_num(rates.table["age_year"].to_numpy(dtype=float))
    # A tenth of a year is nothing to a rate, and keeps the ages few.
    known, place = np.unique(np.round(ages, 1), return_inverse=True)
    growth = np.concatenate([[rates.growth_value], rates.growth_draws.astype(float)])
    oldest = oldest_age_years(rates) + GROWS_BEYOND_YEARS
    return Ageing(rates.growth, growth, known, oldest), place.astype(np.int64)


def oldest_age_years(rates: PipeRates) -> float:
    """The oldest age on record: all but a hundredth of the length by years watched is younger, or
    of the length in use where nothing was watched."""
    history = rates.history
    age = (history["to_year"] - history["installed_year"]).to_numpy(dtype=float)
    weight = history["exposure_km_year"].to_numpy(dtype=float)
    if not (np.isfinite(age) & (weight > 0)).any():
        age = rates.table["age_year"].to_numpy(dtype=float)
        weight = rates.table["length_m"].to_numpy(dtype=float)
    told = np.isfinite(age) & (weight > 0)
    if not told.any():
        return 0.0
    order = np.argsort(age[told], kind="stable")
    share = np.cumsum(weight[told][order])
    return float(age[told][order][np.searchsorted(share, _OLDEST_SHARE * share[-1])])


def discount_factors(years_count: int, *, discount_share: float) -> Reals:
    """What money in the middle of each year is worth at the start of the first: shape (years)."""
    return np.asarray((1.0 + discount_share) ** -(np.arange(years_count) + 0.5), dtype=float)


def old_years(
    ageing: Ageing, *, horizon_years: int, discount_share: float, begin_year: int = 0
) -> Reals:
    """Years of today's breaks that those over the horizon are worth, by age: shape (U, G).

    The horizon begins `begin_year` years ahead, and money is discounted to then.
    """
    worth = discount_factors(horizon_years, discount_share=discount_share)
    total = np.zeros((len(ageing.age_years), len(ageing.growth)))
    for year, now in enumerate(worth):
        total += now * ageing.factor(float(begin_year + year))
    return total


def new_years(ageing: Ageing, *, horizon_years: int, discount_share: float) -> Reals:
    """The same of a new main, in years of its breaks at the mean age: shape (G)."""
    worth = discount_factors(horizon_years, discount_share=discount_share)
    return np.asarray(
        sum(now * ageing.new(year + 0.5) for year, now in enumerate(worth)), dtype=float
    )


def new_level_index(terms: pd.DataFrame) -> float:
    """By how much new mains are taken to break more than published: as table FIT_TERMS tells it of
    their material in the district, else of the district; 1 where it tells neither."""
    own = terms[(terms["term"] == TERM_WORDS["material"]) & (terms["level"] == NEW_MATERIAL)]
    every = terms[terms["term"] == TERM_WORDS["district"]]
    told = own if len(own) else every
    return float(told["factor_index"].iloc[0]) if len(told) else 1.0


def new_rate_per_year(
    length_m: Any, diameter_mm: pd.Series[Any], *, level_index: float = 1.0
) -> Reals:
    """Breaks a year of new mains once they are of the mean age: the published rate of their
    material, by bore, times `level_index`. Shape (N)."""
    material = pd.Series([NEW_MATERIAL] * len(diameter_mm), dtype=object)
    by_bore = np.exp(-BORE_POWER * bore_log(diameter_mm))
    per_km = level_index * mains_rate_per_km_year(material)
    return np.asarray(per_km * by_bore * np.asarray(length_m, dtype=float) / 1000, dtype=float)
