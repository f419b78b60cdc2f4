"""The rates that explain a record of breaks best, by empirical Bayes."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
from scipy import linalg
from scipy.optimize import minimize_scalar

from district.break_rates import Reals, mains_rate_per_km_year
from district.plan.history import History
from district.plan.likelihood import Record, log_posterior, slopes
from district.plan.terms import Terms, pooled_spread, terms_of
from district.settings import Settings

GROWTH_PRIOR = {"exponential": (0.02, 0.03), "power": (1.0, 1.0), "none": (0.0, 1e-6)}
"""Growth with age before the breaks tell it: mean and spread. Assumption: 2 % a year of age, as
much as that at the mean age by a power of 1; single pipes are said to grow by 5 to 15 % (Shamir &
Howard 1979, J AWWA 71(5) 248; from memory), whole materials by less, as the worst go first."""
GROWTH_REACH = {"exponential": (-0.1, 0.3), "power": (-0.8, 6.0), "none": (0.0, 0.0)}
"""Beyond these no growth is told. Assumption."""
USUAL_SHAPE = 2.0
SHAPE_SPREAD = 0.7
"""Unlikeness of like pipes before the breaks tell it, and the spread of its logarithm.
Assumption."""
BARE_MENTION = float(np.log(3.0))
"""Logarithm of odds: those below 3 are not worth more than a bare mention (Kass & Raftery 1995,
Bayes factors, J American Statistical Association 90, 773-795; from memory)."""
_SHAPE_REACH = (np.log(0.2), np.log(50.0))
_ROUNDS, _STEPS = 12, 30
_STILL = 1e-3


@dataclass(frozen=True, eq=False)
class Fit:
    """Rates as fitted: `value` of the terms and, last, of the growth, their `covariance`; `form` of
    the growth, `log_shape` of the unlikeness and its `log_shape_spread`; `base` the logarithm of
    published breaks a year of each pipe of the history, `terms` with the spreads as told;
    `evidence` by which forms are compared, `lead_index` by how much it leads that of the other one
    (logarithm of odds; infinite where there is none, below 0 where the other leads a little);
    `with_breaks` whether the record told anything."""

    terms: Terms
    value: Reals
    covariance: Reals
    form: str
    log_shape: float
    log_shape_spread: float
    base: Reals
    evidence: float
    with_breaks: bool
    lead_index: float = np.inf


def fit_rates(history: History, *, settings: Settings) -> Fit:
    """Fit the rates of the pipes of a history.

    The greatest posterior by Newton's method, the unlikeness in turn with it, the spreads of the
    groups by expectation-maximisation; its covariance by the second derivatives there (Laplace;
    Gelman et al., Bayesian Data Analysis, 3rd ed., chapter 13; from memory). Of two forms of
    growth the power of age where the breaks speak for it, else the exponential: by a power, pipes
    of few years hardly break at all, which a record of old ones cannot tell. Without a record it is
    the published rates.
    """
    said = settings.renew.growth
    forms = ("exponential", "power") if said == "either" else (said,)
    fits = [_fitted(history, form) for form in forms]
    if len(fits) == 1:
        return fits[0]
    exponential, power = fits
    lead = power.evidence - exponential.evidence
    if lead < BARE_MENTION:
        return replace(exponential, lead_index=-lead)
    return replace(power, lead_index=lead)


def _fitted(history: History, form: str) -> Fit:
    table = history.table
    terms = terms_of(table)
    rate = mains_rate_per_km_year(table["material"]) * table["length_m"].to_numpy(float) / 1000
    base = np.log(np.maximum(rate, 1e-12))
    watched = (table["exposure_km_year"] > 0).to_numpy() & history.known
    counted = watched[history.break_pipe] if len(history.break_pipe) else np.zeros(0, dtype=bool)
    first, last = history.ages()
    mean, spread = GROWTH_PRIOR[form]
    record = Record(
        matrix=terms.matrix[watched],
        base=base[watched],
        ages=(first[watched], last[watched]),
        breaks=table["breaks_count"].to_numpy(dtype=float)[watched],
        break_age=history.break_age[counted],
        mean=np.append(terms.mean, mean),
        precision=np.append(terms.spread, spread) ** -2.0,
        form=form,
    )
    theta, log_shape = record.mean.copy(), float(np.log(USUAL_SHAPE))
    covariance = np.diag(1 / record.precision)
    if watched.any():
        theta, log_shape, covariance, terms, record = _settled(record, terms, theta, log_shape)
    around = _of_shape(record, theta)(log_shape)
    determinant = float(np.linalg.slogdet(covariance)[1] + np.log(record.precision).sum())
    return Fit(
        terms=terms,
        value=theta,
        covariance=covariance,
        form=form,
        log_shape=log_shape,
        log_shape_spread=_shape_spread(record, theta, log_shape),
        base=base,
        evidence=around + 0.5 * determinant,
        with_breaks=bool(watched.any()),
    )


def _settled(
    record: Record, terms: Terms, theta: Reals, log_shape: float
) -> tuple[Reals, float, Reals, Terms, Record]:
    covariance = np.diag(1 / record.precision)
    for _ in range(_ROUNDS):
        before = np.append(theta, log_shape)
        theta, covariance = _newton(record, theta, log_shape)
        log_shape = _best_shape(record, theta)
        spread = pooled_spread(terms, theta[:-1], np.diag(covariance)[:-1])
        terms = replace(terms, spread=spread)
        record = replace(record, precision=np.append(spread**-2.0, record.precision[-1]))
        if np.abs(np.append(theta, log_shape) - before).max() < _STILL:
            break
    theta, covariance = _newton(record, theta, log_shape)
    return theta, log_shape, covariance, terms, record


def _newton(record: Record, theta: Reals, log_shape: float) -> tuple[Reals, Reals]:
    """The greatest posterior with this unlikeness, and the covariance there."""
    low, high = GROWTH_REACH[record.form]
    best = log_posterior(record, theta, log_shape_index=log_shape)
    for _ in range(_STEPS):
        gradient, second = slopes(record, theta, log_shape_index=log_shape)
        step = _solved(second, gradient)
        size = 1.0
        while size > 1e-6:
            tried = theta + size * step
            tried[-1] = np.clip(tried[-1], low, high)
            value = log_posterior(record, tried, log_shape_index=log_shape)
            if value >= best - 1e-9:
                break
            size /= 2
        else:
            break
        moved, theta, best = np.abs(tried - theta).max(), tried, value
        if moved < 1e-6:
            break
    _, second = slopes(record, theta, log_shape_index=log_shape)
    return theta, _inverse(second)


def _solved(second: Reals, gradient: Reals) -> Reals:
    try:
        return np.asarray(linalg.solve(second, gradient, assume_a="pos"))
    except linalg.LinAlgError:
        # Far from the best the growth's own curve may bend the other way.
        return np.asarray(gradient / np.abs(np.diag(second)))


def _inverse(second: Reals) -> Reals:
    values, vectors = linalg.eigh(second)
    return np.asarray((vectors / np.maximum(values, 1e-9)) @ vectors.T)


def _shape_prior(log_shape: float) -> float:
    return float(-0.5 * ((log_shape - np.log(USUAL_SHAPE)) / SHAPE_SPREAD) ** 2)


def _of_shape(record: Record, theta: Reals) -> Callable[[float], float]:
    """Logarithm of the posterior by that of the unlikeness."""

    def posterior(log_shape_index: float) -> float:
        told = log_posterior(record, theta, log_shape_index=log_shape_index)
        return told + _shape_prior(log_shape_index)

    return posterior


def _best_shape(record: Record, theta: Reals) -> float:
    posterior = _of_shape(record, theta)
    found = minimize_scalar(lambda x: -posterior(x), bounds=_SHAPE_REACH, method="bounded")
    return float(found.x)


def _shape_spread(record: Record, theta: Reals, log_shape: float) -> float:
    step, at = 0.05, _of_shape(record, theta)
    second = (2 * at(log_shape) - at(log_shape + step) - at(log_shape - step)) / step**2
    return float(min(1 / np.sqrt(max(second, 1e-9)), SHAPE_SPREAD))


def levels(fit: Fit, theta: Any) -> Any:
    """Breaks a year at the mean age of each pipe of the history, own factor 1; `theta` (terms + 1,)
    or (terms + 1, draws)."""
    line = fit.terms.matrix @ theta[:-1]
    return np.exp(np.clip((fit.base if line.ndim == 1 else fit.base[:, None]) + line, -60, 60))
