"""What breaks of each main cost a year, and what renewing it saves over the horizon."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pandas as pd

from district.plan.ageing import new_years, old_years
from district.plan.best_year import best_years
from district.plan.drawn import limits
from district.plan.mains import Mains
from district.plan.runs import Reals
from district.renew_settings import Renew
from district.renewal_results import Draws
from district.schema.renewal_tables import RENEWAL_PIPES
from district.schema.typed import typed


@dataclass(frozen=True, eq=False)
class Scored:
    """The mains with their score: RENEWAL_PIPES without project_id and kept_share, in the order of
    `mains`, and draws of shape (N, draws)."""

    mains: Mains
    table: pd.DataFrame
    risk_draws: Draws
    benefit_draws: Draws
    cost_draws: Draws


def benefit_currency(
    mains: Mains,
    *,
    horizon_years: int,
    discount_share: float,
    begin_year: int = 0,
    dearer_share: float = 0.0,
    hidden_share: float = 1.0,
) -> Reals:
    """What renewing each main saves over the horizon, discounted to its beginning: shape (N).

    Breaks of the old main as it ages, less those of a new one, by what a break costs (made dearer
    by a share of it), and once what hidden leakage on it would cost until it is found (a share of
    that may be left). The horizon begins `begin_year` years after the year of the plan.
    """
    old = old_years(
        mains.ageing,
        horizon_years=horizon_years,
        discount_share=discount_share,
        begin_year=begin_year,
    )[:, 0]
    new = new_years(mains.ageing, horizon_years=horizon_years, discount_share=discount_share)[0]
    breaks = mains.real("breaks_per_year") * old[mains.age_at] - mains.new_rate_per_year * new
    saved = breaks * mains.real("break_currency") * (1.0 + dearer_share)
    return np.asarray(saved + hidden_share * mains.real("hidden_currency"), dtype=float)


def scored(mains: Mains, renew: Renew) -> Scored:
    """Risk, benefit, benefit over cost and best year of every main, with limits from draws."""
    years, discount = renew.horizon_years, renew.discount_share
    rate, cost = mains.real("breaks_per_year"), mains.real("renewal_currency")
    breaks = mains.draws("break_currency")
    risk_draws = mains.rate_draws * breaks
    benefit = benefit_currency(mains, horizon_years=years, discount_share=discount)
    old = old_years(mains.ageing, horizon_years=years, discount_share=discount)
    new = new_years(mains.ageing, horizon_years=years, discount_share=discount)[1:]
    new_rate = mains.new_rate_per_year.astype(np.float32)
    # In place: each of these is as large as all the draws.
    benefit_draws = old[:, 1:].astype(np.float32)[mains.age_at]
    benefit_draws *= mains.rate_draws
    benefit_draws -= new_rate[:, None] * new.astype(np.float32)
    benefit_draws *= breaks
    benefit_draws += mains.draws("hidden_currency")
    cost_draws = mains.draws("renewal_currency")
    priced = np.where(cost > 0, cost, np.nan)
    ratio_draws = benefit_draws / np.where(cost_draws > 0, cost_draws, np.nan)
    table = mains.table.copy()
    for name, middle, draws in (
        ("risk_currency_year", rate * mains.real("break_currency"), risk_draws),
        ("benefit_currency", benefit, benefit_draws),
        ("benefit_cost_index", benefit / priced, ratio_draws),
    ):
        table[name] = middle
        table[f"{name}_low"], table[f"{name}_high"] = limits(draws, middle)
    best = best_years(mains, discount_share=discount)
    table = pd.concat([table, best], axis=1)
    return Scored(mains, typed(table, RENEWAL_PIPES), risk_draws, benefit_draws, cost_draws)
