"""Two leaks at once: how much better two explain the loggers than one, and which two."""

from __future__ import annotations

import numpy as np
from scipy.linalg import cholesky, solve_triangular

from district.hydraulics.model import Reals, Wholes
from district.locate.pressure_likelihood import TAIL, Change, at_spots
from district.locate.spots import Pairs

MOST_PLACES = 600
"""Places between which pairs are tried; in a larger zone neighbours share one."""
_AVERAGED = 200
_PARTS = (0.125, 0.25, 0.375, 0.5, 0.625, 0.75, 0.875)
"""Share of the flow at the first of the two, each as likely."""


def pairs(change: Change, place: Wholes, likely: Reals) -> Pairs:
    """Every pair of places held against the change that was seen.

    Parameters: `place` (S) number of each spot's place, such as its pipe; `likely` (S)
    probability of each spot with one leak, by which the model's errors are averaged: pairs use
    one covariance for all, singles beside them too, so that the two can be compared.
    """
    names, number = np.unique(place, return_inverse=True)
    place_of = number // -(-len(names) // MOST_PLACES)
    lower = cholesky(_covariance(change, likely), lower=True)
    seen = solve_triangular(lower, change.seen_m, lower=True)
    made = at_spots(change, change.expected_m, _middles(place_of, change.share))
    shape = solve_triangular(lower, made.T, lower=True)
    gram, with_seen = shape.T @ shape, shape.T @ seen
    own, whole = np.diag(gram), float(seen @ seen)
    spread = change.size_spread_share

    def fit(seen_part: Reals, power: Reals) -> Reals:
        scale = 1 + spread**2 * power
        misfit = whole - 2 * seen_part + power - spread**2 * (seen_part - power) ** 2 / scale
        far = np.log1p(misfit.clip(min=0.0) / TAIL)
        return np.asarray(-np.log(scale) / 2 - (TAIL + len(seen)) / 2 * far)

    each = np.empty((len(_PARTS), *gram.shape))
    for i, part in enumerate(_PARTS):
        rest = 1 - part
        power = part**2 * own[:, None] + rest**2 * own + 2 * part * rest * gram
        each[i] = fit(part * with_seen[:, None] + rest * with_seen, power)
    top = each.max(axis=0)
    density = np.exp(each - top)
    total = density.sum(axis=0)
    share = np.tensordot(np.array(_PARTS), density, axes=1) / total
    return Pairs(place_of, fit(with_seen, own), top + np.log(total / len(_PARTS)), share)


def _covariance(change: Change, likely: Reals) -> Reals:
    """Noise and the model's errors (n, n), averaged over where one leak is likely."""
    top = np.argsort(-likely, kind="stable")[:_AVERAGED]
    drawn = at_spots(change, change.drawn_m, top)
    weight = likely[top] / max(float(likely[top].sum()), 1e-300)
    drawn = drawn * np.sqrt(weight / max(drawn.shape[2], 1))[:, None, None]
    wide = drawn.transpose(1, 0, 2).reshape(len(change.seen_m), -1)
    return np.asarray(change.noise + wide @ wide.T)


def _middles(place_of: Wholes, share: Reals) -> Wholes:
    """One spot of each place, that nearest the middle of its pipe."""
    order = np.lexsort((np.abs(share - 0.5), place_of))
    return np.asarray(order[np.unique(place_of[order], return_index=True)[1]])
