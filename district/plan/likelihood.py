"""How well rates explain a record of breaks: a Poisson process in age, with unlike pipes.

Pipe i breaks at age t at the rate c_i u_i r(t; g): c_i its level by material, bore, ground and
zone; r the growth with age, 1 at the mean age (`plan.growth`); u_i its own, gamma about 1 with
shape a. With n_i breaks at ages t_ij while watched between two ages, and E_i(g) the integral of r
between them, the logarithm of the likelihood is, u_i integrated out,

    sum_i [ n_i log c_i + a log a - (a + n_i) log(a + c_i E_i) + log G(a + n_i) - log G(a) ]
    + sum_ij log r(t_ij; g)

The watch begins when the record does (left truncation) and ends when the pipe is taken out. Source:
Lawless 1987, Regression methods for Poisson process data, J American Statistical Association 82,
808-815 (from memory).
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
from scipy.special import gammaln

from district.break_rates import MEAN_AGE_YEARS, Reals
from district.plan.growth import LEAST_AGE_YEARS, relative_rate, years_at_mean_age

_STEP = 1e-4
_TINY = 1e-300


@dataclass(frozen=True, eq=False)
class Record:
    """What the likelihood is of, the watched pipes alone: `matrix` (pipes, terms), `base` the
    logarithm of published breaks a year, `ages` at the begin and end of the watch, `breaks` of
    each, `break_age` of each break; `mean` and `precision` of the prior of the terms and, last, of
    the growth."""

    matrix: Any
    base: Reals
    ages: tuple[Reals, Reals]
    breaks: Reals
    break_age: Reals
    mean: Reals
    precision: Reals
    form: str


def expected(record: Record, theta: Reals) -> tuple[Reals, Reals]:
    """Breaks expected of each pipe while watched (own factor 1), and the integral of growth."""
    years = years_at_mean_age(record.form, theta[-1], *record.ages)
    level = np.exp(np.clip(record.base + record.matrix @ theta[:-1], -60, 60))
    return level * years, years


def log_posterior(record: Record, theta: Reals, *, log_shape_index: float) -> float:
    """Logarithm of likelihood and prior, up to a constant that neither parameter changes."""
    mean, years = expected(record, theta)
    shape, n = np.exp(log_shape_index), record.breaks
    seen = n > 0
    quiet = float(-shape * np.log1p(mean[~seen] / shape).sum())
    m, k = mean[seen], n[seen]
    loud = (
        gammaln(shape + k)
        - gammaln(shape)
        - shape * np.log1p(m / shape)
        + k * (np.log(np.maximum(m, _TINY)) - np.log(shape + m) - np.log(years[seen]))
    ).sum()
    growth = np.log(relative_rate(record.form, theta[-1], record.break_age)).sum()
    away = theta - record.mean
    return quiet + float(loud) + float(growth) - 0.5 * float(away @ (record.precision * away))


def slopes(record: Record, theta: Reals, *, log_shape_index: float) -> tuple[Reals, Reals]:
    """Gradient of `log_posterior` by the terms and the growth, and minus its second derivatives."""
    mean, years = expected(record, theta)
    shape, n = np.exp(log_shape_index), record.breaks
    weighed = (shape + n) * mean / (shape + mean)
    curve = weighed * shape / (shape + mean)
    by_growth, bend = _of_growth(record, float(theta[-1]), years)
    last = _break_slope(record).sum() - float(weighed @ by_growth)
    gradient = np.append(record.matrix.T @ (n - weighed), last) - record.precision * (
        theta - record.mean
    )
    size = len(theta)
    second = np.empty((size, size))
    scaled = record.matrix.multiply(curve[:, None]).tocsr()
    second[:-1, :-1] = (record.matrix.T @ scaled).toarray()
    second[-1, :-1] = second[:-1, -1] = scaled.T @ by_growth
    second[-1, -1] = float(curve @ by_growth**2) + float(weighed @ bend)
    second[np.diag_indices(size)] += record.precision
    return np.asarray(gradient), second


def _of_growth(record: Record, growth: float, years: Reals) -> tuple[Reals, Reals]:
    """First and second derivative of the logarithm of the integral by the growth."""
    if record.form == "none":
        return np.zeros(len(years)), np.zeros(len(years))
    up = np.log(years_at_mean_age(record.form, growth + _STEP, *record.ages))
    down = np.log(years_at_mean_age(record.form, growth - _STEP, *record.ages))
    return (up - down) / (2 * _STEP), (up - 2 * np.log(years) + down) / _STEP**2


def _break_slope(record: Record) -> Reals:
    """Derivative of the logarithm of growth at each break."""
    age = record.break_age
    if record.form == "exponential":
        return np.asarray(age - MEAN_AGE_YEARS)
    if record.form == "power":
        return np.asarray(np.log(np.maximum(age, LEAST_AGE_YEARS) / MEAN_AGE_YEARS))
    return np.zeros(len(age))
