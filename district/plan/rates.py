"""Expected breaks of every main in the year of the plan, with limits, from the fitted rates.

Expected are the breaks at the greatest posterior of the terms, on the logarithm: where few breaks
tell a level, that is the mean of its gamma posterior, n breaks over what was expected, and where
none do, the published rate. The mean of lognormal draws would lie above, by half the variance.
"""

from __future__ import annotations

from typing import Any

import numpy as np
import pandas as pd

from district.break_rates import Reals
from district.plan.drawn import limits
from district.plan.fit import GROWTH_PRIOR, GROWTH_REACH, Fit, levels
from district.plan.growth import growth_per_year, years_at_mean_age
from district.plan.history import History
from district.plan.runs import natural_order
from district.renewal_results import Draws
from district.schema.renewal_tables import PIPE_RATES

DRAWS = 200
_SEED = 19_790_503
_BLOCK = 4096
"""Pipes drawn at once, so that memory stays small."""


def drawn_terms(fit: Fit, *, draws: int = DRAWS) -> tuple[Reals, Reals]:
    """Terms with growth, shape (terms + 1, draws), and unlikeness, shape (draws,), that the fitted
    ones may be instead; always the same."""
    random = np.random.default_rng(_SEED)
    values, vectors = np.linalg.eigh(fit.covariance)
    # The symmetric root: of others, each library of linear algebra finds its own.
    root = (vectors * np.sqrt(np.maximum(values, 0.0))) @ vectors.T
    # In pairs about the fitted value, so that their mean is that value.
    half = random.standard_normal((len(fit.value), draws // 2))
    theta = fit.value[:, None] + root @ np.hstack([half, -half])
    theta[-1] = np.clip(theta[-1], *GROWTH_REACH[fit.form])
    log_shape = fit.log_shape + fit.log_shape_spread * random.standard_normal(draws)
    return theta, np.exp(np.clip(log_shape, np.log(0.2), np.log(50.0)))


def drawn_rates(fit: Fit, history: History, *, year: float) -> tuple[Reals, Draws]:
    """Expected breaks of each pipe in a year from `year` (decimal) on, and what they may be
    instead, shape (pipes, DRAWS).

    Of the fitted terms and the mean of the pipe's own factor given its breaks; the draws hold the
    chance of terms and own factor.
    """
    theta, shape = drawn_terms(fit)
    random = np.random.default_rng(_SEED + 1)
    age = np.maximum(year - history.laid, 0.0)
    first, last = history.ages()
    breaks = history.table["breaks_count"].to_numpy(dtype=float)
    watched = (history.table["exposure_km_year"].to_numpy() > 0) & fit.with_breaks
    level = levels(fit, theta)
    draws = np.empty((len(age), DRAWS), dtype=np.float32)
    for start in range(0, len(age), _BLOCK):
        rows = slice(start, start + _BLOCK)
        while_watched = years_at_mean_age(fit.form, theta[-1], first[rows, None], last[rows, None])
        seen = np.where(watched[rows, None], breaks[rows, None], 0.0)
        expected = np.where(watched[rows, None], level[rows] * while_watched, 0.0)
        here = level[rows] * years_at_mean_age(
            fit.form, theta[-1], age[rows, None], age[rows, None] + 1.0
        )
        own = random.standard_gamma((shape + seen).astype(np.float32), dtype=np.float32)
        draws[rows] = here * own / (shape + expected)
    of_like = levels(fit, fit.value) * years_at_mean_age(fit.form, fit.value[-1], age, age + 1.0)
    return of_like * own_index(fit, history), draws


def own_index(fit: Fit, history: History) -> Reals:
    """Own factor of each pipe given its breaks, above 1 where it broke more than its like."""
    shape = np.exp(fit.log_shape)
    first, last = history.ages()
    expected = levels(fit, fit.value) * years_at_mean_age(fit.form, fit.value[-1], first, last)
    breaks = history.table["breaks_count"].to_numpy(dtype=float)
    watched = (history.table["exposure_km_year"].to_numpy() > 0) & fit.with_breaks
    return np.asarray(np.where(watched, (shape + breaks) / (shape + expected), 1.0))


def published_rates(fit: Fit, history: History, *, year: float) -> Reals:
    """Breaks that published rates alone expect of each pipe in the same year, by material, bore and
    age."""
    growth = GROWTH_PRIOR[fit.form][0]
    age = np.maximum(year - history.laid, 0.0)
    level = np.exp(fit.base + fit.terms.matrix @ fit.terms.mean)
    return np.asarray(level * years_at_mean_age(fit.form, growth, age, age + 1.0))


def rates_table(
    fit: Fit, history: History, expected: Reals, draws: Draws, *, year: int
) -> tuple[pd.DataFrame, Any]:
    """Table PIPE_RATES of the mains in use, in order of pipe_id, and which rows of the history they
    are."""
    use = history.table["in_use"].to_numpy(dtype=bool)
    table = history.table[use].reset_index(drop=True)
    rate = expected[use]
    low, high = limits(draws[use], rate)
    per_100_km = 1e5 / table["length_m"].to_numpy(dtype=float)
    age = np.maximum(year - history.laid[use], 0.0)
    theta, _ = drawn_terms(fit)
    growth = growth_per_year(fit.form, theta[-1][None, :], age[:, None])
    by_year = growth_per_year(fit.form, fit.value[-1], age)
    growth_low, growth_high = limits(growth, by_year)
    # Alike but for rounding they are alike, and go by id.
    alike = np.round(np.log(np.maximum(rate * per_100_km, 1e-300)), 9)
    rank = np.lexsort((np.argsort(natural_order(table["pipe_id"])), -alike))
    told = table.assign(
        rank=pd.Series(np.arange(1, len(table) + 1), index=rank),
        age_year=np.where(
            table["installed_year"].isna(), age, np.maximum(year - table["installed_year"], 0.0)
        ),
        breaks_per_year=rate,
        breaks_per_year_low=low,
        breaks_per_year_high=high,
        breaks_per_100_km_year=rate * per_100_km,
        breaks_per_100_km_year_low=low * per_100_km,
        breaks_per_100_km_year_high=high * per_100_km,
        published_per_100_km_year=published_rates(fit, history, year=year)[use] * per_100_km,
        own_index=own_index(fit, history)[use],
        growth_per_year=by_year,
        growth_per_year_low=growth_low,
        growth_per_year_high=growth_high,
        rests_on="breaks" if len(history.break_pipe) else "published",
    )
    return told[list(PIPE_RATES.names())], use
