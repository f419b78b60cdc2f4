"""Expected new leaks by material, age, bore and connections, before the district's own breaks.

Published rates are means over many utilities; the spreads and the factors for age and bore are
assumptions, said so here and in the result's basis.
"""

from __future__ import annotations

from typing import Any

import numpy as np
import pandas as pd

Reals = np.ndarray[Any, np.dtype[np.float64]]

KM_100_MILES = 160.9344
BREAKS_PER_100_MILES_YEAR: dict[str, float] = {
    "cast_iron": 34.8,
    "ductile_iron": 5.5,
    "pvc": 2.3,
    "asbestos_cement": 10.4,
    "steel": 7.6,
    "unknown": 14.0,
}
"""Breaks of mains in the USA and Canada per 100 miles a year.

Source: Folkman 2018, Water Main Break Rates in the USA and Canada, Utah State University: all
pipes 14 as published; the materials from memory.
"""
TAKEN_AS = {"polyethylene": "pvc"}
"""Materials without a rate of their own, and the one they are taken as (an assumption)."""
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
MEAN_AGE_YEARS = 50.0
"""Age at which the rate by material holds. Assumption: near the mean age at failure, 53 years
(Barfuss 2024, Water Main Break Rates in the USA and Canada, Utah State University)."""
AGE_REACH_YEARS = 60.0
"""Ages further than this from the mean count as this far. Assumption."""
BORE_POWER = 0.3
"""Breaks go with diameter to the power -0.3. Common practice, no source: small mains, with their
thin walls and many tappings, break more."""
BORE_SPREAD = 0.3
"""95 % limit of that power. Assumption."""
BORE_MM = 150.0
BORE_REACH = (50.0, 600.0)
"""Diameters outside count as these. Assumption."""


def mains_rate_per_km_year(material: pd.Series[Any]) -> Reals:
    """Published breaks of mains per km a year by material; the all-pipes rate where unknown."""
    known = {**BREAKS_PER_100_MILES_YEAR}
    known.update({new: known[old] for new, old in TAKEN_AS.items()})
    per_100_miles = material.map(known).fillna(known["unknown"])
    return np.asarray(per_100_miles.to_numpy(dtype=float) / KM_100_MILES, dtype=float)


def age_span_years(installed_year: pd.Series[Any], *, year: int) -> Reals:
    """Years of age above the mean, within reach; 0 where the year is not known."""
    age = (year - installed_year.to_numpy(dtype=float)).clip(min=0)
    span = np.clip(age - MEAN_AGE_YEARS, -AGE_REACH_YEARS, AGE_REACH_YEARS)
    return np.asarray(np.nan_to_num(span), dtype=float)


def bore_log(diameter_mm: pd.Series[Any]) -> Reals:
    """Logarithm of diameter over 150 mm, within reach; 0 where it is not known."""
    bore = np.clip(diameter_mm.to_numpy(dtype=float), *BORE_REACH) / BORE_MM
    return np.asarray(np.nan_to_num(np.log(bore)), dtype=float)


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
