"""How the night flow of a zone goes through two years without a leak and without works.

What is ordinary was read off ten real metered areas (hourly net inflow of 2021, nights from two to
four; Alvisi et al. 2025, Journal of Water Resources Planning and Management 151(10), doi
10.1061/JWRMD5.WRENG-6887, data CC BY 4.0): about the running median of 29 nights the robust
standard deviation is 1 to 17 % of the level (median 4 %), the correlation of one night with the
next 0 to 0.4 (median 0.15), 1 to 16 % of the nights lie more than three of these deviations out
(median 4 %), most of them high; medians by weekday differ by 1 to 9 % of the level (one area by
89 %), the running median itself spans 8 to 84 % of the level over the year (median 25 %), the
day-to-day movement of two areas is hardly correlated (below 0.2 but for one pair), and public
holidays stay within three deviations, but for Christmas. Where the ten say nothing: common
practice, no source.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pandas as pd
from numpy.typing import NDArray

Values = NDArray[np.float64]

_YEAR_D = 365.25
_TO_SIGMA = 1.4826  # median absolute deviation to standard deviation, normal law


@dataclass(frozen=True, eq=False)
class Courses:
    """Night flow of each zone without a leak, shape (zones, nights).

    curve_l_s
        its own weekday, season, holidays, irrigation and background: what is to be expected.
    noise_l_s
        what each night adds by chance.
    level_l_s, sigma_l_s
        shape (zones,): the level drawn; the robust standard deviation of the noise.
    """

    curve_l_s: Values
    noise_l_s: Values
    level_l_s: Values
    sigma_l_s: Values


def draw_courses(
    rng: np.random.Generator, nights: pd.DatetimeIndex, zones_count: int, away: NDArray[np.bool_]
) -> Courses:
    """Draw the ordinary nights of the zones of one district.

    Parameters: `away` shape (2, nights): single public holidays, and vacations.
    """
    weather = _weather(rng, nights)
    one = [_zone(rng, nights, weather, away) for _ in range(zones_count)]
    curve, noise = np.stack([c for c, _ in one]), np.stack([n for _, n in one])
    shared = rng.uniform(0.0, 0.2)  # of the noise's variance
    common = _correlated(rng, len(nights), rng.uniform(0.0, 0.4))
    sigma = np.median(np.abs(noise), axis=1) * _TO_SIGMA
    noise = np.sqrt(1 - shared) * noise + np.sqrt(shared) * sigma[:, None] * common
    level = np.median(curve, axis=1)
    sigma = np.median(np.abs(noise - np.median(noise, axis=1)[:, None]), axis=1) * _TO_SIGMA
    return Courses(curve, noise, level, sigma)


def _zone(
    rng: np.random.Generator,
    nights: pd.DatetimeIndex,
    weather: Values,
    away: NDArray[np.bool_],
) -> tuple[Values, Values]:
    level = float(np.exp(rng.uniform(np.log(0.3), np.log(15.0))))
    season = _season(rng, nights) * _between(rng, 0.05, 0.7, 0.01, 0.25)
    season += weather * _between(rng, 0.04, 0.7, 0.0, 0.2)
    season += _slow(rng, len(nights), 60.0) * _between(rng, 0.015, 0.5, 0.005, 0.05)
    share = 1.0 + season + _weekdays(rng, nights) + _holidays(rng, away)
    share += _irrigation(rng, nights, weather)
    share += rng.uniform(0.0, 0.06) * np.arange(len(nights)) / _YEAR_D  # background grows
    share = np.maximum(share, 0.2)
    noise_share = _between(rng, 0.055, 0.55, 0.03, 0.2)
    noise = noise_share * _correlated(rng, len(nights), rng.uniform(0.0, 0.4))
    noise *= 1.0 + rng.uniform(0.0, 0.5) * np.clip(weather, 0.0, 1.0)  # summers are unruly
    high = rng.random(len(nights)) < rng.uniform(0.0, 0.04)
    noise += high * rng.exponential(4.0 * noise_share, len(nights))
    return level * share, level * noise


def _between(
    rng: np.random.Generator, middle: float, spread: float, low: float, high: float
) -> float:
    """A lognormal draw about its median, kept within limits."""
    return float(np.clip(middle * np.exp(spread * rng.normal()), low, high))


def _weather(rng: np.random.Generator, nights: pd.DatetimeIndex) -> Values:
    """What the weather asks for, the same in all zones: high in summer, with spells."""
    turn = 2 * np.pi * (nights.day_of_year.to_numpy() - rng.uniform(190, 215)) / _YEAR_D
    summer = np.cos(turn)
    return np.asarray(summer + 0.5 * _slow(rng, len(nights), 12.0) * np.clip(summer + 0.3, 0, 1))


def _season(rng: np.random.Generator, nights: pd.DatetimeIndex) -> Values:
    turn = 2 * np.pi * nights.day_of_year.to_numpy() / _YEAR_D
    first, second = rng.uniform(0, 2 * np.pi, 2)
    return np.asarray(np.cos(turn - first) + 0.35 * np.cos(2 * turn - second))


def _slow(rng: np.random.Generator, count: int, memory_nights: float) -> Values:
    """A wander of unit standard deviation that forgets over `memory_nights`."""
    return _correlated(rng, count, float(np.exp(-1 / memory_nights)), tails=None)


def _correlated(
    rng: np.random.Generator, count: int, correlation: float, tails: float | None = 5.0
) -> Values:
    """First-order correlated nights of unit variance; shocks with `tails` degrees of freedom."""
    shocks = (
        rng.normal(size=count)
        if tails is None
        else rng.standard_t(tails, count) * np.sqrt((tails - 2) / tails)
    )
    out = np.empty(count)
    now = rng.normal()
    for i, shock in enumerate(shocks * np.sqrt(1 - correlation**2)):
        now = correlation * now + shock
        out[i] = now
    return out


def _weekdays(rng: np.random.Generator, nights: pd.DatetimeIndex) -> Values:
    size = _between(rng, 0.015, 0.7, 0.003, 0.08)
    by_day = rng.normal(0.0, 0.25, 7)
    by_day[5:] += rng.choice([-1.0, 1.0, 1.0])  # most zones use more on the nights of weekends
    return np.asarray(size * by_day[nights.day_of_week.to_numpy()])


def _holidays(rng: np.random.Generator, away: NDArray[np.bool_]) -> Values:
    single, long = away
    if rng.random() < 0.3:  # offices, schools: nobody there
        return np.asarray(-rng.uniform(0.02, 0.1) * (single | long))
    return np.asarray(rng.uniform(0.0, 0.05) * single - rng.uniform(0.0, 0.05) * long)


def _irrigation(rng: np.random.Generator, nights: pd.DatetimeIndex, weather: Values) -> Values:
    """In one zone of three: grown into over weeks of early summer, as the weather asks."""
    if rng.random() > 1 / 3:
        return np.zeros(len(nights))
    size = rng.uniform(0.03, 0.2)
    days = rng.choice([7, 3])
    on = np.isin(nights.day_of_week.to_numpy(), [0, 2, 4]) if days == 3 else True
    doy = nights.day_of_year.to_numpy()
    wanted = 0.0 * weather
    for year in np.unique(nights.year):
        begun, done = rng.normal(150, 8), rng.normal(258, 8)
        season = 1 / (1 + np.exp(-(doy - begun) / 6)) / (1 + np.exp((doy - done) / 6))
        wanted += (nights.year == year) * season
    return np.asarray(size * wanted * on * np.clip(0.7 + 0.3 * weather, 0.2, 1.5))
