"""How night flows vary by chance, and how far a change must stand out of it to be told."""

from __future__ import annotations

from typing import Any

import numpy as np

WANDER = 0.22
"""Slow wander of a level, in standard deviations of its nights: as in the ten open areas that the
trials are drawn after (`simulate.night_trial_course`)."""
WANDER_NIGHTS = 60.0
"""After so many nights a third of a wander is left (1 / e)."""
_BEFORE_NIGHTS = 240
_LIMITS = (3.0, 3.3, 3.6, 3.9, 4.2)
_ALARMS_YEAR = (3.72, 1.68, 0.521, 0.189, 0.055)
"""False alarms a year of one place, rises and falls together, by Monte Carlo of the whole test:
1,600 series a limit, their second year, nights that resemble their neighbours (correlation 0.3,
shocks of Student's t with 5 degrees of freedom), as the ten open areas of the trials do. Where
nights are independent and normal, alarms are fewer."""

Reals = np.ndarray[Any, np.dtype[np.float64]]


def limit_for(false_alarms_per_year: float) -> float:
    """How many standard errors a change must stand out for at most so many false alarms a year.

    The logarithm of the rate falls as a parabola of the limit, as it does where nothing is
    estimated (Siegmund & Venkatraman 1995, Annals of Statistics 23: the mean nights to a false
    alarm grow as exp(limit^2 / 2) / limit; from memory). Below the least limit of the table none
    is given, however many false alarms are accepted.
    """
    c, b, a = np.polyfit(_LIMITS, np.log(_ALARMS_YEAR), 2)
    inside = b * b - 4 * c * (a - np.log(false_alarms_per_year))
    limit = (-b - np.sqrt(inside)) / (2 * c) if inside > 0 else _LIMITS[0]
    return max(_LIMITS[0], float(limit))


def step_error(noise: Reals, nights_count: int) -> Reals:
    """Standard error of a step `nights_count` nights after it began, in the unit of `noise`.

    By generalised least squares against 240 nights before, whose level wanders. `noise` is what
    the mean of several nights behaves by.
    """
    night = np.arange(_BEFORE_NIGHTS + nights_count)
    apart = np.abs(night[:, None] - night[None, :])
    covariance = np.eye(len(night)) + WANDER**2 * np.exp(-apart / WANDER_NIGHTS)
    step = (night >= _BEFORE_NIGHTS).astype(float)
    level = np.column_stack([np.ones(len(night)), step])
    weight = level.T @ np.linalg.solve(covariance, level)
    return np.asarray(noise * np.sqrt(np.linalg.inv(weight)[1, 1]))
