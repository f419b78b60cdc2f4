"""Expected new leaks by material, age, bore and connections, before the district's own breaks.

Published rates are means over many utilities; the spreads and the factors for age and bore are
assumptions, said so here and in the result's basis.
"""

from __future__ import annotations

from typing import Any

import numpy as np
import pandas as pd

from district.break_rates import (
    BORE_POWER,
    MEAN_AGE_YEARS,
    Reals,
    bore_log,
    mains_rate_per_km_year,
)

CONNECTION_BREAKS_PER_1000_YEAR = 3.0
"""Reported 2.25 and unreported 0.75 from main to property line.

Source: Lambert, Brown, Takizawa & Weimer 1999, J Water SRT - Aqua 48(6) 227 (from memory).
"""
PRIVATE_BREAKS_PER_1000_YEAR_15_M = 2.0
"""Reported 1.5 and unreported 0.5 on 15 m of pipe from property line to meter. Same source."""

AGE_GROWTH_PER_YEAR = 0.02
"""Breaks grow by this a year of age. Assumption: gentle, as the rate by material already holds
the age its pipes have; the exponential form is Shamir & Howard's (1979, J AWWA 71(5) 248)."""
AGE_GROWTH_SPREAD = 0.02
"""95 % limit of that growth. Assumption."""
AGE_REACH_YEARS = 60.0
"""Ages further than this from the mean count as this far. Assumption."""


def age_span_years(installed_year: pd.Series[Any], *, year: int) -> Reals:
    """Years of age above the mean, within reach; 0 where the year is not known."""
    age = (year - installed_year.to_numpy(dtype=float)).clip(min=0)
    span = np.clip(age - MEAN_AGE_YEARS, -AGE_REACH_YEARS, AGE_REACH_YEARS)
    return np.asarray(np.nan_to_num(span), dtype=float)


def published_mains(pipes: pd.DataFrame, *, year: int) -> Reals:
    """Expected breaks a year of each main, from material, length, age and bore alone."""
    rate = mains_rate_per_km_year(pipes["material"]) * pipes["length_m"].to_numpy(float) / 1000
    age = np.exp(AGE_GROWTH_PER_YEAR * age_span_years(pipes["installed_year"], year=year))
    bore = np.exp(-BORE_POWER * bore_log(pipes["diameter_mm"]))
    return np.asarray(rate * age * bore, dtype=float)


def published_services(connections_count: Reals, private_pipe_m: Reals) -> Reals:
    """Expected leaks a year of the connections on each main, with their private pipe."""
    leaks = (
        connections_count * CONNECTION_BREAKS_PER_1000_YEAR
        + private_pipe_m / 15 * PRIVATE_BREAKS_PER_1000_YEAR_15_M
    )
    return np.asarray(leaks / 1000, dtype=float)
