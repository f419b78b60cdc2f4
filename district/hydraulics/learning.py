"""The errors of readings, learnt from what they leave unexplained."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from scipy.linalg import cho_factor, cho_solve
from scipy.optimize import minimize

from district.hydraulics.model import Reals
from district.hydraulics.update import (
    Learnt,
    Readings,
    Stated,
    Weighed,
    error_covariance,
    stated_covariance,
    weighed,
)

USUAL_ERROR_M = 0.1
"""Noise, and what a zone's loggers have in common, as is usual. Assumption."""
_ERRORS_M = (0.01, 10.0)
"""The least and the most they can be: loggers' steps are coarser than the least."""
_DOUBTS = (1.0, 50.0)
_FACTORS = (3.0, 3.0, 3.0)
"""Of noise, common part and doubt: in two of three districts they lie within such a factor of what
is usual. Assumption."""
_HEAVY = 3.0
"""Degrees of freedom (Student's t) by which an offset, or a logger, may be out of proportion."""
_ROUNDS = 4
_STEP = 0.4
"""Of a logarithm, to begin the search for the likeliest with."""
_LEAST_TRUST = 1e-4


def learnt_errors(readings: Readings, left_m: Reals, *, start: Learnt | None = None) -> Learnt:
    """The errors that make `left_m` (K), what is to explain, likeliest.

    Noise and common part by their likelihood; in turn with it, how far each logger's offset may
    lie, and how far its course is out of proportion to what the others say of it. From `start`,
    what was learnt of nearly the same readings, one turn does.
    """
    learnt = start or Learnt(
        USUAL_ERROR_M, USUAL_ERROR_M, readings.offset_spread_m, np.ones(len(readings.zone))
    )
    stated = stated_covariance(readings)
    for _ in range(_ROUNDS if start is None else 1):
        learnt = _likeliest(readings, stated, learnt, left_m)
        learnt = _proportioned(weighed(readings, learnt, stated), left_m)
    return learnt


def _likeliest(readings: Readings, stated: Stated, learnt: Learnt, left_m: Reals) -> Learnt:
    usual = np.log([USUAL_ERROR_M, USUAL_ERROR_M, 1.0])

    def learnt_of(logs: Reals) -> Learnt:
        noise, common, doubt = (float(x) for x in np.exp(logs))
        return replace(learnt, noise_m=noise, common_m=common, doubt_index=doubt)

    def unlikely(logs: Reals) -> float:
        errors = learnt_of(logs)
        factor = cho_factor(errors.doubt_index * stated[0] + error_covariance(readings, errors))
        spread = np.log(np.diag(factor[0])).sum()
        prior = (((logs - usual) / np.log(_FACTORS)) ** 2).sum() / 2.0
        return float(spread + left_m @ cho_solve(factor, left_m) / 2.0 + prior)

    start = np.log([learnt.noise_m, learnt.common_m, learnt.doubt_index])
    found = minimize(
        unlikely,
        start,
        method="Nelder-Mead",
        bounds=np.log([_ERRORS_M, _ERRORS_M, _DOUBTS]),
        options={
            "xatol": 0.05,
            "fatol": 0.05,
            "maxfev": 100,
            "initial_simplex": start + _STEP * np.vstack([np.zeros(3), np.eye(3)]),
        },
    )
    return learnt_of(found.x)


def _proportioned(by: Weighed, left_m: Reals) -> Learnt:
    at, learnt = by.readings, by.learnt
    inverse = by.solved(np.eye(len(left_m)))
    weight = inverse @ left_m
    offset, trust = at.offset_spread_m.copy(), learnt.trust.copy()
    for g in range(len(at.zone)):
        k = np.flatnonzero(at.logger == g)
        if not len(k):
            continue
        block = inverse[np.ix_(k, k)]
        spread = learnt.offset_m[g] ** 2
        mean = spread * weight[k].sum()
        left = spread - spread**2 * block.sum()
        heavy = (_HEAVY * at.offset_spread_m[g] ** 2 + mean**2 + left) / (_HEAVY + 1.0)
        offset[g] = np.sqrt(heavy)
        # How far this logger's readings lie from what all the others say of them.
        strange = weight[k] @ np.linalg.solve(block, weight[k])
        trust[g] *= (_HEAVY + len(k)) / (_HEAVY + strange)
    return replace(learnt, offset_m=offset, trust=np.clip(trust, _LEAST_TRUST, 1.0))
