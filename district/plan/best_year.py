"""The year in which renewing a main costs least, where its growth is known well enough to tell."""

from __future__ import annotations

from typing import Any

import numpy as np
import pandas as pd

from district.plan.growth import LEAST_AGE_YEARS
from district.plan.mains import Mains
from district.plan.runs import Reals

FURTHEST_YEARS = 100.0
"""No year further ahead is told. Assumption."""
NOW = "now"
TAKEN_NOT = "breaks are taken not to grow with age"
NOT_SHOWN = "the breaks on record do not show that they grow with age"
NOT_WITHIN = "not within a hundred years"
NO_DISCOUNT = "without a discount rate no year costs less than another"
BEYOND = "at an age beyond those on record"
_AT_ONCE = 4096


def threshold_rate_per_year(
    renewal_currency: Any, break_currency: Any, *, discount_share: float
) -> Any:
    """Breaks a year from which renewing costs less than waiting: ln(1 + R) Cr / Cb.

    Source: Shamir & Howard 1979, An analytic approach to scheduling pipe replacement, J AWWA 71(5)
    248 (from memory; it follows where discounted repairs and replacement together cost least).
    Infinite where a break costs nothing.
    """
    renewal, cost = np.asarray(renewal_currency, float), np.asarray(break_currency, float)
    safe = np.where(cost > 0, cost, 1.0)
    return np.where(cost > 0, np.log1p(discount_share) * renewal / safe, np.inf)


def years_until(
    form: str, growth: Any, age_year: Any, *, rate_per_year: Any, threshold_per_year: Any
) -> Any:
    """Years until a rate that grows with age reaches the threshold; arrays are broadcast.

    Exponential: (1/A) ln(threshold / rate), Shamir & Howard 1979. Power of age: the age at which it
    is reached, less the age now. Below 0 where it is passed already, infinite where it never is.

    >>> threshold = threshold_rate_per_year(50_000.0, 2000.0, discount_share=0.05)
    >>> round(float(years_until("exponential", 0.08, 40.0, rate_per_year=0.3,
    ...                         threshold_per_year=threshold)), 3)
    17.533
    """
    rate, aim = np.asarray(rate_per_year), np.asarray(threshold_per_year)
    age = np.asarray(age_year)
    grows = np.asarray(growth) > 0
    by = np.where(grows, growth, 1.0)
    known = (rate > 0) & (aim > 0) & np.isfinite(aim)
    ratio = np.log(np.where(known, aim, 1.0)) - np.log(np.where(known, rate, 1.0))
    if form == "power":
        begin = np.maximum(age, LEAST_AGE_YEARS)
        # No factor of age so large matters; beyond it would overflow.
        years = begin * np.exp(np.minimum(ratio / by, 50.0)) - age
        # In its first years a pipe's rate stands still: what is passed then is passed now.
        years = np.where(ratio > 0, years, np.minimum(years, 0.0))
    else:
        years = ratio / by
    passed = np.where(aim <= rate, -np.inf, np.inf)
    told = known & grows & (form != "none")
    return np.where(told, years, np.where(aim <= 0, -np.inf, passed))


def best_years(mains: Mains, *, discount_share: float) -> pd.DataFrame:
    """best_year, its limits and best_note of each main, in the order of `mains`.

    A year is told only where the lower limit of growth is above 0, and never one before the plan's:
    the note then says "now". Limits are of the draws of rates, growth and costs; they end a hundred
    years ahead.
    """
    count = len(mains.table)
    growing = _grows(mains) and discount_share > 0
    if not growing:
        why = TAKEN_NOT if mains.ageing.form == "none" else NOT_SHOWN
        why = NO_DISCOUNT if discount_share <= 0 else why
        return _told([np.full(count, np.nan)] * 3, np.full(count, why, dtype=object))
    age = mains.ageing.age_years[mains.age_at]
    threshold = threshold_rate_per_year(
        mains.real("renewal_currency"), mains.real("break_currency"), discount_share=discount_share
    )
    form, growth = mains.ageing.form, mains.ageing.growth
    years = years_until(
        form,
        growth[0],
        age,
        rate_per_year=mains.real("breaks_per_year"),
        threshold_per_year=threshold,
    )
    low, high = _limits(mains, age, discount_share)
    low, high = np.fmin(low, years), np.fmax(high, years)
    within = years <= FURTHEST_YEARS
    note = np.where(within, "", NOT_WITHIN).astype(object)
    note[within & (age + years > mains.ageing.oldest_years)] = BEYOND
    note[years <= 0] = NOW
    told = [
        np.where(within, mains.year + np.round(np.clip(y, 0.0, FURTHEST_YEARS)), np.nan)
        for y in (years, low, high)
    ]
    return _told(told, note)


def _grows(mains: Mains) -> bool:
    """Whether the lower 95 % limit of growth is above 0."""
    if mains.ageing.form == "none":
        return False
    estimate, draws = mains.ageing.growth[0], mains.ageing.growth[1:]
    low = float(np.quantile(draws, 0.025)) if len(draws) else estimate
    return bool(min(low, estimate) > 0)


def _limits(mains: Mains, age: Reals, discount_share: float) -> tuple[Reals, Reals]:
    if not mains.rate_draws.shape[1]:
        return np.full(len(age), np.nan), np.full(len(age), np.nan)
    renewal, breaks = mains.draws("renewal_currency"), mains.draws("break_currency")
    low, high = np.empty(len(age)), np.empty(len(age))
    for first in range(0, len(age), _AT_ONCE):
        here = slice(first, first + _AT_ONCE)
        threshold = threshold_rate_per_year(
            renewal[here], breaks[here], discount_share=discount_share
        )
        years = years_until(
            mains.ageing.form,
            mains.ageing.growth[1:],
            age[here, None],
            rate_per_year=mains.rate_draws[here],
            threshold_per_year=threshold,
        )
        # Of an infinite draw a quantile would be made of infinity times nothing.
        years = np.clip(years, -1e6, 1e6)
        low[here], high[here] = np.quantile(years, (0.025, 0.975), axis=1)
    return low, high


def _told(years: list[Reals], note: Any) -> pd.DataFrame:
    names = ("best_year", "best_year_low", "best_year_high")
    return pd.DataFrame({**dict(zip(names, years, strict=True)), "best_note": note})
