"""What leakage costs, how often a survey pays, and which zone to visit first."""

from __future__ import annotations

from typing import Any

import numpy as np
import pandas as pd

from district.balance.annual import DISTRICT, YEAR_D, with_district, with_sum
from district.balance.grids import estimate_in, in_columns
from district.balance.intervals import (
    economic_losses_m3,
    survey_budget_currency,
    survey_interval_months,
    surveyed_percent,
)
from district.balance.rise import Rise, rates_of_rise
from district.estimates import Array, Estimate, combine_limits, multiply_limits, scaled
from district.schema.annual_tables import ECONOMICS
from district.settings import Settings
from district.units import M3_PER_L_S_H
from district.words import brief, figure, listed


def survey_economics(
    zones: pd.DataFrame, nights: pd.DataFrame, *, settings: Settings
) -> pd.DataFrame:
    """Table ECONOMICS: the district first, then its zones, the one to visit first on top.

    Parameters: `zones` table ZONES, `nights` table NIGHTS. The rate of rise comes from the record
    (`rates_of_rise`), the excess from the recent nights, costs from the settings. Zones stand by
    what a survey brings in a year for each unit of money it costs: the excess above the economic
    level, at the value of water. Where the rate is not known, or is not above zero, the economic
    level counts as nothing. The district's interval comes from the zones whose rate is known,
    from what they cost to survey and how they rise, and stands for all.
    """
    order = pd.Index(nights["cell_id"].drop_duplicates(), dtype=object)
    found = rates_of_rise(nights, order) if len(order) else Rise(_nothing(0), ())
    at = order.get_indexer(zones["cell_id"])
    rise = Estimate(*(np.where(at >= 0, np.append(x, np.nan)[at], np.nan) for x in found.rate))
    notes = [found.notes[i] if i >= 0 else "not known: no usable night" for i in at]
    by_hour = multiply_limits(
        estimate_in(zones, "excess_l_s"), estimate_in(zones, "night_day_factor_h_d")
    )
    # As in table ZONES, excess is never below nothing: nor is its lower limit.
    excess = Estimate(*(np.maximum(x, 0.0) for x in scaled(by_hour, M3_PER_L_S_H)))
    unknown = zones["cell_id"][np.isnan(rise.value)].tolist()
    mains_km = zones["mains_km"].to_numpy(dtype=float)
    table = _table(
        with_district(rise, _summed(rise, as_one=False)),
        with_district(excess, _summed(excess, as_one=True)),
        with_sum(mains_km),
        np.append(mains_km[np.isfinite(rise.value)].sum(), mains_km),
        settings,
    )
    table["cell_id"] = [DISTRICT, *zones["cell_id"]]
    of_all = f"without {listed(sorted(unknown))}, where it is not known" if unknown else ""
    table["rise_note"] = [of_all, *notes]
    value = table["return_index"].iloc[1:]
    order_by = pd.DataFrame({"value": value, "cell_id": table["cell_id"].iloc[1:]})
    sorted_rows = order_by.sort_values(
        ["value", "cell_id"], ascending=[False, True], na_position="last"
    )
    table["rank"] = np.nan
    ranked = sorted_rows.index[sorted_rows["value"].notna()]
    table.loc[ranked, "rank"] = np.arange(1.0, len(ranked) + 1)
    table = table.loc[[0, *sorted_rows.index]].reset_index(drop=True)
    table["statement"] = [_said(row, settings.district.currency) for row in _records(table)]
    return table[list(ECONOMICS.names())]


def _table(
    rise: Estimate, excess: Estimate, mains_km: Array, rising_km: Array, settings: Settings
) -> pd.DataFrame:
    """The figures of ECONOMICS, in the order of the arrays; `rising_km` of mains whose rate of
    rise is known."""
    costs = settings.costs
    worth = costs.water_currency_m3
    survey = costs.survey_currency_km * mains_km

    def months(rate: Array) -> Array:
        cost = costs.survey_currency_km * rising_km
        return survey_interval_months(cost, water_currency_m3=worth, rise_m3_d_year=rate)

    def grown(figure: Any) -> Estimate:
        """A figure that grows with the rate of rise: nothing where leakage does not rise."""
        each = (
            np.where(r > 0, figure(months(r)), np.where(np.isnan(r), np.nan, 0.0)) for r in rise
        )
        return Estimate(*each)

    budget = grown(lambda t: survey_budget_currency(survey, interval_months=t))
    losses = Estimate(*(economic_losses_m3(b, water_currency_m3=worth) for b in budget))
    level = Estimate(*(np.nan_to_num(x) / YEAR_D for x in losses))
    day = scaled(excess, worth)
    per_survey = YEAR_D * worth / np.where(survey > 0, survey, np.nan)
    figures = {
        "rise_m3_d_year": rise,
        "survey_interval_months": Estimate(months(rise.value), months(rise.high), months(rise.low)),
        "surveyed_percent": grown(surveyed_percent),
        "survey_budget_currency": budget,
        "economic_losses_m3": losses,
        "excess_m3_d": excess,
        "excess_day_currency": day,
        "excess_year_currency": scaled(day, YEAR_D),
        "payback_d": Estimate(*(_over(survey, x) for x in (day.value, day.high, day.low))),
        "return_index": scaled(combine_limits(excess, level, signs=(1, -1)), per_survey),
    }
    columns: dict[str, Any] = {"mains_km": mains_km, "survey_currency": survey}
    columns["water_currency_m3"] = np.full(len(survey), worth)
    return pd.DataFrame(columns | in_columns(figures))


def _over(cost: Array, by: Array) -> Array:
    """Days to pay; NaN where nothing comes in, so that it never pays."""
    earns = by > 1e-9
    return np.asarray(np.where(earns, cost / np.where(earns, by, 1.0), np.nan))


def _nothing(count: int) -> Estimate:
    return Estimate(*(np.full(count, np.nan) for _ in range(3)))


def _summed(part: Estimate, *, as_one: bool) -> Estimate:
    """The sum of the known entries: limits add where they share an assumption, else variances."""
    there = np.isfinite(part.value)
    if not there.any():
        return Estimate(*(np.asarray(np.nan) for _ in range(3)))
    value, low, high = (p[there] for p in part)
    total = value.sum()
    if as_one:
        return Estimate(np.asarray(total), np.asarray(low.sum()), np.asarray(high.sum()))
    below, above = np.sqrt(((value - low) ** 2).sum()), np.sqrt(((high - value) ** 2).sum())
    return Estimate(np.asarray(total), np.asarray(total - below), np.asarray(total + above))


def _records(table: pd.DataFrame) -> list[dict[str, Any]]:
    return [{str(k): v for k, v in row.items()} for row in table.to_dict("records")]


def _said(row: dict[str, Any], currency: str) -> str:
    gain = row["return_index"]
    if np.isnan(row["excess_m3_d"]):
        return "Not known: no usable night."
    if np.isnan(gain):
        return "Not known: a survey here has no cost, as there are no mains or no price for it."
    if row["water_currency_m3"] == 0:
        return "Not known: water costs nothing in the settings, so that no survey can pay."
    if gain <= 0:
        return "A survey does not pay yet: the excess is not above the economic level."
    cost = figure(row["survey_currency"], name="survey_currency", currency=currency)
    days = (
        f"it costs {cost} and is earned back in about {brief(row['payback_d'])} days if it finds "
        "all of the excess, repairs not counted"
    )
    if row["return_index_low"] <= 0:
        return f"A survey may pay, but the limits do not rule out that there is nothing: {days}."
    return f"A survey pays: {days}."
