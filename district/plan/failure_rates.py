"""Failure rates of the mains: the record of breaks told as expected breaks of each pipe."""

from __future__ import annotations

import numpy as np

from district.break_rates import BORE_MM, BORE_POWER, MEAN_AGE_YEARS
from district.plan.described import fit_terms
from district.plan.fit import BARE_MENTION, Fit, fit_rates
from district.plan.history import History, on_day
from district.plan.rates import drawn_rates, drawn_terms, rates_table
from district.renewal_results import PipeRates
from district.results import Basis
from district.settings import Settings
from district.words import brief, day, figure, plural

_GROWTH_SAID = {
    "exponential": "Breaks are taken to grow exponentially with age (Shamir & Howard 1979)",
    "power": "Breaks are taken to grow by a power of age (Crow 1974)",
    "none": "Breaks are taken not to grow with age, as the settings say",
}
_GONE_SAID = (
    "Pipes taken out do not count, as the layer has none with their years: where pipes were "
    "renewed, the worst of their like are missing, and old pipes look better than they were."
)


def pipe_rates(history: History, *, settings: Settings, year: int) -> PipeRates:
    """Expected breaks of every main in use in a calendar year, with limits and what tells them."""
    fit = fit_rates(history, settings=settings)
    expected, draws = drawn_rates(fit, history, year=float(year))
    table, use = rates_table(fit, history, expected, draws, year=year)
    theta, _ = drawn_terms(fit)
    return PipeRates(
        table=table,
        year=year,
        draws=draws[use],
        growth=fit.form,
        growth_value=float(fit.value[-1]),
        growth_draws=theta[-1].astype(np.float32),
        terms=fit_terms(fit, history),
        history=history.table,
        basis=_basis(fit, history, settings),
    )


def _basis(fit: Fit, history: History, settings: Settings) -> Basis:
    said = [
        "Rates begin from published break rates by material (Folkman 2018; materials from memory; "
        "polyethylene as PVC, an assumption), taken to hold at "
        f"{brief(MEAN_AGE_YEARS)} years of age and {brief(BORE_MM)} mm of bore and to fall with "
        f"bore to the power {brief(BORE_POWER)} (common practice, no source), and are drawn "
        "towards the district's own breaks: of the district, of materials, bores, grounds and "
        "zones, and of each pipe, the more the more of its breaks there are (empirical Bayes).",
        _growth_said(fit, settings),
    ]
    first = last = None
    if history.known:
        first, last = on_day(history.first), on_day(history.last, last=True)
        how = "the settings" if settings.renew.record_dates else "the dates of the breaks"
        breaks = len(history.break_pipe)
        watched = figure(float(history.table["exposure_km_year"].sum()), name="exposure_km_year")
        said.append(
            f"The record of breaks runs from {day(first)} to {day(last)}, as {how} tell; a "
            "pipe counts from when it was laid or the record began, whichever is later. "
            f"{plural(breaks, 'break')} of mains over "
            f"{watched} count."
        )
    return Basis(
        first,
        last,
        assumptions=(*said, *history.assumptions),
        limits=tuple(_limits(history, settings)),
    )


def _growth_said(fit: Fit, settings: Settings) -> str:
    said = _GROWTH_SAID[fit.form]
    if fit.form == "none":
        return f"{said}."
    if not fit.with_breaks:
        return f"{said}; by how much is assumed: 2 % a year at 50 years of age."
    chosen = ""
    if settings.renew.growth == "either":
        chosen = ", the form the breaks speak for"
        if fit.lead_index < BARE_MENTION:
            chosen = ", which the breaks hardly tell from growth by a power of age"
    return f"{said}{chosen}; by how much the breaks tell, beginning from 2 % a year (assumed)."


def _limits(history: History, settings: Settings) -> list[str]:
    said = []
    count = len(history.break_pipe)
    if not history.known:
        none = (
            "No break on record has a date" if history.left_out else "There is no record of breaks"
        )
        said.append(
            f"{none}: the rates are the published ones, by material, bore and age, and may be "
            "wrong for this district by a factor of 6."
        )
    elif count == 0:
        said.append(
            "Not one break of a main is on record in that time: the rates are published ones, "
            "drawn down by that."
        )
    elif count == 1 and settings.renew.record_dates:
        said.append("One break is on record: the rates are hardly more than the published ones.")
    elif count == 1:
        said.append(
            "One break is on record: how long it was watched for is not known from its date, and "
            "the rates are hardly more than the published ones. Set record_dates under [renew]."
        )
    if len(history.break_pipe) and not history.has_gone():
        said.append(_GONE_SAID)
    if history.left_out:
        parts = [f"{n} {reason}" for reason, n in sorted(history.left_out.items())]
        total = sum(history.left_out.values())
        said.append(f"{plural(total, 'break')} on record not counted: {'; '.join(parts)}.")
    unknown = int(history.table["installed_year"].isna().sum())
    if unknown:
        said.append(f"The year of {plural(unknown, 'pipe')} is not known: see what is assumed.")
    return said
