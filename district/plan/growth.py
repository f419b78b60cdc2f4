"""How breaks of a pipe grow with its age: exponential, a power of age, or not at all."""

from __future__ import annotations

from typing import Any

import numpy as np

from district.break_rates import MEAN_AGE_YEARS

FORMS = ("exponential", "power", "none")
LEAST_AGE_YEARS = 2.0
"""A power law says nothing of a pipe in its first years, when what breaks are slips in laying:
younger pipes count as this old. Assumption."""


def relative_rate(form: str, growth: Any, age_years: Any) -> Any:
    """Rate at an age over the rate at `MEAN_AGE_YEARS`; arrays are broadcast.

    Exponential: e^(growth x (age - mean)), as Shamir & Howard 1979, J AWWA 71(5) 248. Power:
    (age / mean)^growth, the power-law process of Crow 1974 (Reliability analysis for complex,
    repairable systems; from memory).
    """
    age = np.asarray(age_years, dtype=float)
    if form == "none":
        return np.ones(np.broadcast(np.asarray(growth), age).shape)
    if form == "exponential":
        return np.exp(np.asarray(growth) * (age - MEAN_AGE_YEARS))
    return (np.maximum(age, LEAST_AGE_YEARS) / MEAN_AGE_YEARS) ** np.asarray(growth)


def growth_factor(form: str, growth: Any, age_years: Any, *, ahead_year: float) -> Any:
    """By how much a pipe of this age breaks more (or less) some years later; arrays are broadcast.

    >>> round(float(growth_factor("exponential", 0.05, 30.0, ahead_year=10)), 3)
    1.649
    >>> round(float(growth_factor("power", 1.5, 40.0, ahead_year=10)), 3)
    1.398
    """
    later = np.asarray(age_years, dtype=float) + ahead_year
    if form == "exponential":
        # Not by the ratio of two rates: that of a very old pipe may overflow.
        return np.exp(np.asarray(growth) * (later - np.asarray(age_years, dtype=float)))
    return relative_rate(form, growth, later) / relative_rate(form, growth, age_years)


def growth_per_year(form: str, growth: Any, age_years: Any) -> Any:
    """Share by which breaks grow in the next year, at this age."""
    return growth_factor(form, growth, age_years, ahead_year=1.0) - 1.0


def years_at_mean_age(form: str, growth: Any, from_age: Any, to_age: Any) -> Any:
    """Years at `MEAN_AGE_YEARS` that would see as many breaks as the years between two ages.

    The integral of `relative_rate` over age; 0 where `to_age` is not above `from_age`.
    """
    low = np.asarray(from_age, dtype=float)
    high = np.maximum(np.asarray(to_age, dtype=float), low)
    growth = np.asarray(growth, dtype=float)
    if form == "none":
        return np.broadcast_to(high - low, np.broadcast(growth, low, high).shape).copy()
    if form == "exponential":
        width = growth * (high - low)
        # (e^x - 1) / x, which is 1 where nothing grows.
        shape = np.where(
            np.abs(width) < 1e-9, 1.0, np.expm1(width) / np.where(width == 0, 1, width)
        )
        return np.exp(growth * (low - MEAN_AGE_YEARS)) * (high - low) * shape

    def upto(age: Any) -> Any:
        young = np.minimum(age, LEAST_AGE_YEARS)
        old = np.maximum(age, LEAST_AGE_YEARS)
        of_young = young * (LEAST_AGE_YEARS / MEAN_AGE_YEARS) ** growth
        power = growth + 1.0
        of_old = (old**power - LEAST_AGE_YEARS**power) / (power * MEAN_AGE_YEARS**growth)
        return of_young + of_old

    return upto(high) - upto(low)
