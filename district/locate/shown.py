"""The smallest leak a test of nightly figures shows within a stated number of nights."""

from __future__ import annotations

from math import exp, sqrt

import numpy as np
from scipy.optimize import brentq
from scipy.special import ndtr, ndtri

from district.break_rates import Reals

ALLOWANCE = 0.5
"""Half the shift, in standard deviations, that a cumulative sum finds soonest."""
KEPT = 3.0
"""Standard errors by which a change must stand out once all its nights are known."""
_NIGHTS_YEAR = 365.25
_HIGHEST = 100.0
_SEED = 19_850_611
_DRAWS, _SIGNS = 2000, 600
_FELT = 1e-9


def run_length(shift_count: float, limit_count: float) -> float:
    """Mean nights to an alarm of a one-sided cumulative sum, for a shift from its first night.

    `shift_count` and the decision limit `limit_count` are in standard deviations of a night.
    Siegmund's approximation (exp(-2 d b) + 2 d b - 1) / (2 d^2) with d = shift less `ALLOWANCE`
    and b = limit + 1.166; b^2 where d is 0.
    Source: Siegmund 1985, Sequential Analysis, Springer (from memory).
    """
    b, d = limit_count + 1.166, shift_count - ALLOWANCE
    if abs(d) * b < 1e-4:
        return b * b
    return (exp(min(-2 * d * b, 700.0)) + 2 * d * b - 1) / (2 * d * d)


def alarm_limit(false_alarms_per_year: float, *, tests_count: float) -> float:
    """Decision limit, in standard deviations, of tests that share a rate of false alarms.

    `tests_count`: how many one-sided tests run side by side; 2 for rises and falls of one series.
    """
    wanted = tests_count * _NIGHTS_YEAR / false_alarms_per_year
    if run_length(0.0, 0.0) >= wanted:
        return 0.0
    return float(brentq(lambda h: run_length(0.0, h) - wanted, 0.0, _HIGHEST))


def errors_needed(nights_count: int, limit_count: float) -> float:
    """How many standard errors a leak must be to be shown after `nights_count` nights on average.

    The error is that of the change of level between those nights and the ones before. The leak
    passes the sequential test with the decision limit `limit_count`, and stands out by `KEPT`
    errors by then.
    """
    wanted = float(nights_count)
    shift = 0.0
    if run_length(0.0, limit_count) > wanted:
        shift = float(brentq(lambda m: run_length(m, limit_count) - wanted, 0.0, 1e4))
    return max(shift * sqrt(nights_count), KEPT)


def independent_count(signs: Reals, false_alarms_per_year: float) -> float:
    """How many independent one-sided tests it amounts to, to look for each of many signs at once.

    `signs` (F, P): what each of P leaks does to F readings, in units of their noise and free of
    correlation. Near the limit it is the chance that noise alone exceeds some sign's share of it
    over the chance that it exceeds one's. The limit x that a mean of the best number of nights
    must pass is 2 sqrt(limit x `ALLOWANCE`); the chance of a union of half-spaces is drawn by the
    half-spaces themselves: P x mean(1 / how many hold the draw).
    Source: Owen, Maximov & Chertkov 2019, Electronic J Statistics 13 231-254 (from memory).
    From a fixed seed. At least 1.
    """
    length = np.sqrt((signs**2).sum(axis=0))
    felt = np.flatnonzero(length > _FELT * length.max(initial=0.0))
    if not len(felt):
        return 1.0
    felt = felt[np.unique(np.linspace(0, len(felt) - 1, _SIGNS).round().astype(int))]
    unit = signs[:, felt] / length[felt]
    random = np.random.default_rng(_SEED)
    own = random.integers(0, len(felt), _DRAWS)
    free = random.normal(size=(_DRAWS, len(signs)))
    chance = random.uniform(size=_DRAWS)
    toward = unit[:, own].T
    free -= toward * (free * toward).sum(axis=1)[:, None]
    count = 1.0
    for _ in range(3):
        past = 2 * sqrt(ALLOWANCE * alarm_limit(false_alarms_per_year, tests_count=count))
        beyond = -ndtri(chance * ndtr(-past))
        holding = ((free + toward * beyond[:, None]) @ unit >= past - 1e-9).sum(axis=1)
        count = max(1.0, len(felt) * float((1 / holding).mean()))
    return count
