"""Two leaks at once: how much better two explain the loggers than one, and which two."""

from __future__ import annotations

import numpy as np
from scipy.linalg import cholesky, solve_triangular

from district.hydraulics.model import Reals, Wholes
from district.locate.pressure_likelihood import TAIL, Change, at_spots
from district.locate.spots import Pairs

MOST_PLACES = 600
"""Places between which pairs are tried; in a larger zone neighbours share one."""
_PARTS = (0.125, 0.25, 0.375, 0.5, 0.625, 0.75, 0.875)
"""Share of the flow at the first of the two, each as likely."""


def pairs(change: Change, place: Wholes, likely: Reals) -> Pairs:
    """Every pair of places held against the change that was seen.

    Parameters: `place` (S) number of each spot's place, such as its pipe; `likely` (S)
    probability of each spot with one leak, by which the model's errors are averaged: pairs use
    one covariance for all, singles beside them too, so that the two can be compared.
    """
    names, number = np.unique(place, return_inverse=True)
    step = -(-len(names) // MOST_PLACES)
    place_of = number // step
    middle = _middles(place_of, change.share)
    size = len(change.seen_m)
    top = np.argsort(-likely)[:200]
    drawn = at_spots(change, change.drawn_m, top)
    weight = likely[top] / max(float(likely[top].sum()), 1e-300)
    draws = max(drawn.shape[2], 1)
    covariance = change.noise + np.einsum("s,snk,smk->nm", weight, drawn, drawn) / draws
    lower = cholesky(covariance, lower=True)
    seen = solve_triangular(lower, change.seen_m, lower=True)
    shape = solve_triangular(lower, at_spots(change, change.expected_m, middle).T, lower=True)
    gram, with_seen, whole = shape.T @ shape, shape.T @ seen, float(seen @ seen)
    relative = change.size_spread_share

    def fit(seen_part: Reals, power: Reals) -> Reals:
        scale = 1 + relative**2 * power
        misfit = whole - 2 * seen_part + power - relative**2 * (seen_part - power) ** 2 / scale
        return -np.log(scale) / 2 - (TAIL + size) / 2 * np.log1p(misfit.clip(min=0.0) / TAIL)

    own = np.diag(gram)
    one = fit(with_seen, own)
    top_fit = np.full(gram.shape, -np.inf)
    total, first = np.zeros(gram.shape), np.zeros(gram.shape)
    fits = []
    for part in _PARTS:
        rest = 1 - part
        seen_part = part * with_seen[:, None] + rest * with_seen
        power = part**2 * own[:, None] + rest**2 * own + 2 * part * rest * gram
        fits.append(fit(seen_part, power))
        top_fit = np.maximum(top_fit, fits[-1])
    for part, each in zip(_PARTS, fits, strict=True):
        density = np.exp(each - top_fit)
        total += density
        first += part * density
    return Pairs(place_of, one, top_fit + np.log(total / len(_PARTS)), first / total)


def _middles(place_of: Wholes, share: Reals) -> Wholes:
    """One spot of each place, that nearest the middle of its pipe."""
    order = np.lexsort((np.abs(share - 0.5), place_of))
    return order[np.unique(place_of[order], return_index=True)[1]]
