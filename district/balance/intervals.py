"""How often to survey a zone for leaks: the interval that costs least.

Source of the formulas: Lambert & Lalonde 2005, Using practical predictions of economic intervention
frequency, IWA Leakage 2005 (from memory). They follow from the least of what a year costs: surveys
at CI x 12/T, and water lost between them at CV x RR x 365 x T/24, with T months.
"""

from __future__ import annotations

from typing import Any

import numpy as np

from district.estimates import Array

MONTHS_FACTOR = 0.789
"""288 / 365, as printed."""


def survey_interval_months(
    survey_currency: Any, *, water_currency_m3: Any, rise_m3_d_year: Any
) -> Array:
    """Months between surveys that cost least: the root of 0.789 CI / (CV RR).

    Parameters: `survey_currency` CI, one survey of it all without repairs; `water_currency_m3`
    CV; `rise_m3_d_year` RR. NaN where one of them is not above zero: no interval costs least.

    >>> round(float(survey_interval_months(1e4, water_currency_m3=0.1, rise_m3_d_year=100.0)), 2)
    28.09
    """
    cost, worth, rise = _plain(survey_currency, water_currency_m3, rise_m3_d_year)
    usable = (cost > 0) & (worth > 0) & (rise > 0)
    safe = np.where(usable, worth * rise, 1.0)
    return np.asarray(np.where(usable, np.sqrt(MONTHS_FACTOR * np.abs(cost) / safe), np.nan))


def surveyed_percent(interval_months: Any) -> Array:
    """Share of the system to survey a year at this interval: 1200 / T; NaN without one."""
    (months,) = _plain(interval_months)
    return np.asarray(1200.0 / np.where(months > 0, months, np.nan))


def survey_budget_currency(survey_currency: Any, *, interval_months: Any) -> Array:
    """Yearly budget of surveys: the share surveyed times the cost of a whole survey."""
    return np.asarray(surveyed_percent(interval_months) / 100.0 * survey_currency)


def economic_losses_m3(budget_currency: Any, *, water_currency_m3: Any) -> Array:
    """Unreported losses a year at the interval that costs least: budget over value of water.

    At that interval surveys and lost water cost the same. NaN where water has no value.
    """
    budget, worth = _plain(budget_currency, water_currency_m3)
    return np.asarray(budget / np.where(worth > 0, worth, np.nan))


def _plain(*values: Any) -> tuple[Array, ...]:
    return tuple(np.asarray(v, dtype=float) for v in values)
