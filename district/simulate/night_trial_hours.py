"""Hourly water of a zone without a change: use, and leakage that follows pressure."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pandas as pd

from district.simulate.night_trial_course import Values
from district.simulate.trial_use import course

HOURS = 24
_WEEKEND = 5
_NIGHT_HOURS = 6


@dataclass(frozen=True, eq=False)
class ZoneHours:
    """One zone: `flow_l_s` shape (days, 24), what it takes in; `pressure` shape (24,), against that
    of the night; `leak_exponent` of leakage by pressure."""

    flow_l_s: Values
    pressure: Values
    leak_exponent: float

    def night_l_s(self) -> float:
        """Median over the days of the mean flow from two to four."""
        return float(np.median(self.flow_l_s[:, 2:4].mean(axis=1)))


def draw_zone_hours(rng: np.random.Generator, days: pd.DatetimeIndex) -> ZoneHours:
    """Draw a zone of 1 to 20 L/s on average.

    A third to four fifths of it is leakage, so that night flow is 0.4 to 0.9 of the mean: 0.55 to
    0.88 in ten real areas (Alvisi et al. 2025, doi 10.1061/JWRMD5.WRENG-6887, hourly net inflow of
    2021, CC BY 4.0). Leakage follows pressure with an exponent of 0.5 to 1.5; by day pressure is
    up to a quarter lower: common practice, no source.
    """
    mean = float(np.exp(rng.uniform(0.0, np.log(20.0))))
    leakage = mean * rng.uniform(0.35, 0.8)
    shape = _shape(rng, days)
    pressure = 1.0 - rng.uniform(0.0, 0.25) * np.minimum(shape[:5].mean(axis=0) / 2.0, 1.0)
    pressure /= pressure[2:4].mean()
    exponent = float(rng.uniform(0.5, 1.5))
    use = (mean - leakage) * shape * _scatter(rng, days)
    drift = 1.0 + rng.normal(0.0, 0.03) * np.linspace(-0.5, 0.5, len(days))  # of the season
    flow = use * drift[:, None] + leakage * pressure**exponent
    return ZoneHours(np.asarray(flow), pressure, exponent)


def _shape(rng: np.random.Generator, days: pd.DatetimeIndex) -> Values:
    """Form of use, mean about 1, days x 24: homes and workplaces mixed, weekends apart."""
    homes, work = (course(c).reshape(HOURS, -1).mean(axis=1) for c in ("household", "commercial"))
    late = 0.5 * homes + 0.5 * np.roll(homes, 1)
    share = rng.uniform(0.0, 0.7)
    weekday = (1 - share) * homes + share * work
    weekend = (1 - share) * 1.08 * late + share * rng.uniform(0.2, 0.7) * work
    night = rng.uniform(0.05, 0.25)
    away = (days.day_of_week.to_numpy() >= _WEEKEND)[:, None]
    return np.asarray(night + (1 - night) * np.where(away, weekend, weekday))


def _scatter(rng: np.random.Generator, days: pd.DatetimeIndex) -> Values:
    """How use differs from day to day and from hour to hour, by night for itself."""
    count = len(days)
    by_day, now = np.empty(count), 0.0
    for i, chance in enumerate(rng.normal(0.0, 0.03, count)):
        now = 0.7 * now + chance
        by_day[i] = now
    hours = rng.lognormal(0.0, rng.uniform(0.05, 0.12), (count, HOURS))
    night = rng.lognormal(0.0, rng.uniform(0.15, 0.6), count)
    hours[:, :_NIGHT_HOURS] *= night[:, None]
    high = rng.random(count) < rng.uniform(0.0, 0.04)
    hours[:, :_NIGHT_HOURS] *= 1.0 + (high * rng.exponential(1.5, count))[:, None]
    return np.asarray((1.0 + by_day)[:, None] * hours)
