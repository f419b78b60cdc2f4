"""Ten years without renewal, by the list every year, and with twice the budget.

Works of a year are done by its middle in the mean: half of that year's breaks are of the old main,
half of the new one. What is left of a year's budget is not carried over.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
import pandas as pd

from district.plan.benefit import benefit_currency
from district.plan.drawn import limits
from district.plan.mains import Mains
from district.plan.programme import best_sites
from district.plan.runs import Reals, Runs, Wholes, left_of
from district.plan.selection import Chosen, offered, settled
from district.renew_settings import Renew
from district.renewal_results import Draws
from district.schema.renewal_tables import RENEWAL_YEARS, SCENARIOS
from district.schema.typed import typed

YEARS = 10
_NEVER = YEARS
_GAP_SHARE = 1e-3
_DAYS = 365.0
_WEIGHTS = {"breaks_count": "", "water_m3": "break_water_m3", "breaks_currency": "break_currency"}


@dataclass(frozen=True, eq=False)
class Course:
    """What a scenario renews: the year of each main (0 the first, `YEARS` where never), shape (N),
    and what is spent by year, shape (YEARS)."""

    year_of: Wholes
    spent_currency: Reals


def renewal_years(
    mains: Mains, runs: Runs, first: dict[str, Chosen], *, renew: Renew, budget_currency: float
) -> pd.DataFrame:
    """Table RENEWAL_YEARS. `first`: what each scenario but "none" renews in the first year."""
    budgets = {"list": budget_currency, "twice": 2 * budget_currency}
    drawn = _Drawn.of(mains)
    parts = []
    for scenario in SCENARIOS:
        count = len(mains.table)
        course = Course(np.full(count, _NEVER), np.zeros(YEARS))
        if scenario in first:
            course = course_of(
                mains, runs, first[scenario], renew=renew, budget_currency=budgets[scenario]
            )
        parts.append(_years(mains, drawn, course, renew).assign(scenario=scenario))
    return typed(pd.concat(parts, ignore_index=True), RENEWAL_YEARS)


def course_of(
    mains: Mains, runs: Runs, first: Chosen, *, renew: Renew, budget_currency: float
) -> Course:
    """The works of ten years, each year's chosen from what is left, at the rates of then.

    Those of later years are to come within `_GAP_SHARE` of the best, not so near as the list
    itself: that is several times as fast, and rates of then are known far worse.
    """
    year_of = np.where(first.renewed, 0, _NEVER)
    spent = np.zeros(YEARS)
    spent[0] = first.spent_currency
    cost = mains.real("renewal_currency")
    for year in range(1, YEARS):
        left = left_of(runs, year_of[runs.row] == _NEVER)
        if not len(left.row) or budget_currency <= 0:
            break
        benefit = benefit_currency(
            mains,
            horizon_years=renew.horizon_years,
            discount_share=renew.discount_share,
            begin_year=year,
            hidden_share=max(1.0 - _DAYS * year / renew.hidden_run_d, 0.0),
        )
        offer = offered(left, benefit, cost, renew=renew, site_currency=renew.site_currency)
        along, bound = best_sites(offer, budget_currency=budget_currency, gap_share=_GAP_SHARE)
        chosen = settled(offer, along, benefit, bound)
        year_of[chosen.renewed] = year
        spent[year] = chosen.spent_currency
    return Course(year_of, spent)


@dataclass(frozen=True, eq=False)
class _Drawn:
    """What each break is weighed by, estimate first, then draws: shape (N, 1 + draws) or one
    column that serves all; and breaks a year, and hidden leakage, alike."""

    rate: Draws
    hidden: Draws
    weight: dict[str, Draws]

    @staticmethod
    def of(mains: Mains) -> _Drawn:
        def both(name: str) -> Draws:
            return _beside(mains.real(name), mains.draws(name))

        return _Drawn(
            _beside(mains.real("breaks_per_year"), mains.rate_draws),
            both("hidden_leak_m3_d"),
            {
                kind: both(name) if name else np.ones((1, 1), dtype=np.float32)
                for kind, name in _WEIGHTS.items()
            },
        )


def _beside(middle: Reals, draws: Draws) -> Draws:
    return np.concatenate([middle[:, None].astype(np.float32), draws], axis=1)


def _years(mains: Mains, drawn: _Drawn, course: Course, renew: Renew) -> pd.DataFrame:
    ages = len(mains.ageing.age_years)
    # Mains of one age that are renewed in one year stand for each other.
    group = course.year_of * ages + mains.age_at
    old = {k: _summed(drawn.rate * w, group, (YEARS + 1) * ages) for k, w in drawn.weight.items()}
    young = mains.new_rate_per_year.astype(np.float32)[:, None]
    new = {k: _summed(young * w, course.year_of, YEARS + 1) for k, w in drawn.weight.items()}
    hidden = _summed(drawn.hidden, course.year_of, YEARS + 1)
    length = np.bincount(course.year_of, mains.real("length_m"), minlength=YEARS + 1)
    rows = []
    for year in range(YEARS):
        age = mains.ageing.factor(float(year))
        total: dict[str, Any] = {}
        for kind in _WEIGHTS:
            by_year = old[kind].reshape(YEARS + 1, ages, old[kind].shape[1])
            amount: Any = 0.0
            for when in range(YEARS + 1):
                share = _old_share(when, year)
                amount = amount + share * (by_year[when] * age).sum(axis=0)
                if share < 1:
                    # Laid in the middle of its year: a quarter old in the half that is left.
                    age_new = mains.ageing.new(max(year - when, 0.25))
                    amount = amount + (1 - share) * new[kind][when] * age_new
            total[kind] = amount
        runs_on = np.array([_hidden_days(when, year, renew) for when in range(YEARS + 1)])
        total["leakage_m3"] = total.pop("water_m3") + runs_on @ hidden
        row: dict[str, Any] = {
            "year": mains.year + year,
            "renewed_m": length[year],
            "spent_currency": course.spent_currency[year],
        }
        for name, amount in total.items():
            low, high = limits(amount[None, 1:], amount[:1])
            row |= {name: amount[0], f"{name}_low": low[0], f"{name}_high": high[0]}
        rows.append(row)
    return pd.DataFrame(rows)


def _old_share(when: int, year: int) -> float:
    """Share of a year in which the old main still runs."""
    if year < when:
        return 1.0
    return 0.5 if year == when else 0.0


def _hidden_days(when: int, year: int, renew: Renew) -> float:
    """Days of a year that hidden leakage runs on: until it is found, or the main is renewed."""
    until = min(renew.hidden_run_d, _DAYS * (when + 0.5) if when < YEARS else np.inf)
    return float(np.clip(until - _DAYS * year, 0.0, _DAYS))


def _summed(amount: Any, group: Wholes, count: int) -> Reals:
    """Sums by group of the rows: shape (count, columns)."""
    found = np.zeros((count, amount.shape[1]))
    if not len(group):
        return found
    order = np.argsort(group, kind="stable")
    known, first = np.unique(group[order], return_index=True)
    rows = amount[order] if len(amount) == len(group) else amount
    found[known] = np.add.reduceat(rows, first, axis=0, dtype=float)
    return found
