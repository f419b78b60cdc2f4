"""What a planner should know of the list first, and what it rests on, in sentences."""

from __future__ import annotations

import math
from typing import Any

import numpy as np
import pandas as pd

from district.plan.ageing import GROWS_BEYOND_YEARS, NEW_MATERIAL
from district.plan.benefit import Scored
from district.plan.best_year import NOW
from district.plan.drawn import limits
from district.plan.mains import Mains
from district.plan.runs import Runs
from district.plan.selection import Chosen
from district.plan.sites import sites_of
from district.settings import Settings
from district.words import brief, figure, percent, plural, spelled, whole

_GAP_SHARE = 0.0001
"""A gap is told to so much, rounded up."""


def list_said(
    scored: Scored,
    runs: Runs,
    chosen: Chosen,
    kept: Any,
    years: pd.DataFrame,
    *,
    settings: Settings,
    budget_currency: float,
) -> tuple[str, ...]:
    """What the list renews and saves and how firm it is; what comes of it; whose time has come.

    `kept`: share of the variants that keep each of the works; `years`: RENEWAL_YEARS.
    """
    if not len(scored.table):
        return ("No main is in use: there is nothing to renew.",)
    if not chosen.renewed.any():
        said = [_nothing(runs, scored, settings, budget_currency)]
    else:
        said = [_listed(scored, chosen, settings, budget_currency), _firm(kept)]
    return (*said, _ahead(years, listed=bool(chosen.renewed.any())), _due(scored))


def _listed(scored: Scored, chosen: Chosen, settings: Settings, budget_currency: float) -> str:
    currency, renew = settings.district.currency, settings.renew
    listed = chosen.renewed
    works = int(chosen.site.max()) + 1
    draws = scored.benefit_draws[listed].sum(axis=0, dtype=float)
    low, high = limits(draws[None], [chosen.benefit_currency])
    saves = figure(chosen.benefit_currency, low[0], high[0], "benefit_currency", currency=currency)
    spent = figure(chosen.spent_currency, name="spent_currency", currency=currency)
    budget = figure(budget_currency, name="budget_currency", currency=currency)
    length = _length(scored.mains.real("length_m")[listed].sum())
    times = ""
    if chosen.spent_currency > 0:
        times = f", {brief(chosen.benefit_currency / chosen.spent_currency)} times its cost"
    what = "saves beyond its cost" if renew.paying_only else "saves"
    gap = percent(max(math.ceil(chosen.gap_share / _GAP_SHARE), 1) * _GAP_SHARE)
    within = plural(renew.horizon_years, "year")
    return (
        f"The list: {plural(works, 'site')} with {length} of mains in {scored.mains.year}, for "
        f"{spent} of a budget of {budget}. It saves {saves} within {within}{times}. No other list "
        f"within this budget {what} more than {gap} more."
    )


def _firm(kept: Any) -> str:
    stay = int((np.asarray(kept, dtype=float) >= 1.0).sum())
    return (
        f"{whole(stay)} of its {plural(len(kept), 'site')} {'stays' if stay == 1 else 'stay'} on "
        "the list whichever of the discount rate, the cost of renewal and the cost of breaks is "
        "changed."
    )


def _length(length_m: float) -> str:
    if length_m < 1000:
        return figure(length_m, name="length_m")
    return figure(length_m / 1000, name="length_km")


def _nothing(runs: Runs, scored: Scored, settings: Settings, budget_currency: float) -> str:
    currency = settings.district.currency
    if budget_currency <= 0:
        return "There is no budget, so nothing is listed."
    cost = scored.mains.real("renewal_currency")[runs.row]
    sites = sites_of(runs, site_least_m=settings.renew.site_least_m)
    begin = np.flatnonzero(sites.reach >= 0)
    along = np.concatenate([[0.0], np.cumsum(cost)])
    cheapest = float((along[sites.reach[begin] + 1] - along[begin]).min(initial=np.inf))
    cheapest += settings.renew.site_currency
    if cheapest > budget_currency:
        # Whole, as the one may miss the other by little.
        least = f"{currency}\u00a0{whole(cheapest)}"
        budget = f"{currency}\u00a0{whole(budget_currency)}"
        return f"Nothing is listed: the cheapest site costs {least}, and the budget is {budget}."
    worth = "more than it costs" if settings.renew.paying_only else "anything"
    return f"Nothing is listed: no site within the budget saves {worth}."


def _ahead(years: pd.DataFrame, *, listed: bool) -> str:
    first, last = int(years["year"].min()), int(years["year"].max())

    def breaks(scenario: str, year: int) -> str:
        row = years[(years["scenario"] == scenario) & (years["year"] == year)].iloc[0]
        return figure(row["breaks_count"], row["breaks_count_low"], row["breaks_count_high"])

    said = (
        f"Without renewal {breaks('none', first)} breaks of mains are expected in {first} and "
        f"{breaks('none', last)} in {last}"
    )
    if not listed:
        return f"{said}."
    return (
        f"{said}; with such a list every year {breaks('list', last)}, with twice the budget "
        f"{breaks('twice', last)}."
    )


def _due(scored: Scored) -> str:
    note = scored.table["best_note"]
    told = scored.table["best_year"].notna()
    if not told.any():
        return f"No best year of renewal is told: {', '.join(sorted(set(note)))}."
    due = (note == NOW).to_numpy()
    length = _length(scored.mains.real("length_m")[due].sum())
    later = int((told & ~due).sum())
    if not due.any():
        return (
            "By what breaks and renewal cost alone, no main is best renewed now; "
            f"{plural(later, 'is', 'are')} in a later year."
        )
    return (
        f"By what breaks and renewal cost alone, {plural(int(due.sum()), 'main')} ({length}) "
        f"{'is' if int(due.sum()) == 1 else 'are'} best renewed now, {plural(later, 'other')} in a "
        "later year."
    )


def _new_rate(mains: Mains) -> str:
    if mains.new_level_index == 1.0:
        return "its published rate"
    return f"{brief(mains.new_level_index)} times its published rate (as told of the district)"


def assumed(scored: Scored, *, settings: Settings) -> tuple[str, ...]:
    """What the list rests on, a sentence each."""
    renew, mains = settings.renew, scored.mains
    currency = settings.district.currency
    site: Any = figure(renew.site_currency, name="site_currency", currency=currency)
    oldest = mains.ageing.oldest_years - GROWS_BEYOND_YEARS
    aim = (
        "The list is the sites that save most beyond their cost; none that saves less is on it."
        if renew.paying_only
        else "The list is the sites that save most within the budget, whether or not each pays."
    )
    return (
        f"Savings count over {plural(renew.horizon_years, 'year')}, discounted by "
        f"{percent(renew.discount_share)} a year to the start of {mains.year}; a year's breaks "
        "fall in its middle, and leakage looked for on a main counts once. They are held against "
        "not renewing within these years: a main whose best year is far off may do as well put "
        "off.",
        f"Mains are renewed in {spelled(NEW_MATERIAL)}, which breaks at {_new_rate(mains)} at 50 "
        "years of age and less before, as breaks grow with age.",
        f"Breaks grow with age until {GROWS_BEYOND_YEARS:g} years beyond the oldest age on record "
        f"({oldest:.0f} years), then stay: what is older has not been seen.",
        aim,
        f"A site is neighbouring mains of one street, at least {renew.site_least_m:g} m or all of "
        f"a shorter street, and costs {site} beside its mains.",
        "Costs are drawn lognormally by their limits, too high or too low for all mains at once.",
        "The best year is when breaks reach ln(1 + R) Cr / Cb a year (Shamir & Howard 1979), the "
        "cost of the site left out.",
        "Over ten years each year's sites are chosen from what is left, at the rates of then; "
        "they are done by the middle of the year, and what is left of a budget is not carried "
        "over. Leakage looked for now runs until it is found, with or without renewal, so that it "
        "falls soon in all scenarios; hidden leakage that begins later is not counted.",
    )
