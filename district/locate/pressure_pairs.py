"""Two leaks at once: how much better two explain the loggers than one, and which two."""

from __future__ import annotations

import numpy as np
from scipy.linalg import cholesky, solve_triangular

from district.hydraulics.model import Reals, Wholes
from district.locate.pressure_likelihood import TAIL, Change, at_spots
from district.locate.spots import Pairs

MOST_PLACES = 600
"""Places between which pairs are tried; in a larger zone neighbouring pipes share one."""
MOST_FIRST = 200
"""Spots looked at for one of the two leaks; the other may be at any spot of the zone."""
_AVERAGED = 200
_PARTS = (0.125, 0.25, 0.375, 0.5, 0.625, 0.75, 0.875)
"""Share of the flow at the first of the two, each as likely."""


def pairs(change: Change, pipe: Wholes, prior: Reals, single: Reals) -> Pairs:
    """Every pair of places held against the change that was seen, numbered within the zone.

    Parameters: `pipe` (S) number of each spot's pipe; `prior` (S) of each spot, summing to 1;
    `single` (S) log likelihood of one leak. Pairs share one covariance, with the errors of the
    model averaged where one leak is likely; single leaks are held against the same to find the
    constant. All spots of a place take the likelihood of that in its middle.
    """
    names, number = np.unique(pipe, return_inverse=True)
    place = number // -(-len(names) // MOST_PLACES)
    fit = _Fit(change, _middles(place, change.share), prior * np.exp(single - single.max()))
    weight = np.bincount(place, prior)
    one = fit.of(fit.with_seen, np.diag(fit.gram))
    two, first_share = fit.of_pairs()
    shift = _log_mean(single, prior) - _log_mean(one, weight)
    # Places that are likeliest to be one of the two, with all their spots.
    both = two + np.log(np.maximum(weight, 1e-300)) + np.log(np.maximum(weight, 1e-300))[:, None]
    order = np.argsort(-_log_sums(both), kind="stable")
    fits = np.cumsum(np.bincount(place)[order]) <= MOST_FIRST
    fits[0] = True
    first = np.flatnonzero(np.isin(place, order[fits]))
    at = np.ix_(place[first], place)
    return Pairs(first, np.arange(len(place)), two[at] + shift, first_share[at])


class _Fit:
    """Shapes of the change at M places, turned so that errors are independent and alike."""

    def __init__(self, change: Change, middle: Wholes, likely: Reals) -> None:
        top = np.argsort(-likely, kind="stable")[:_AVERAGED]
        drawn = at_spots(change, change.drawn_m, top)
        weight = likely[top] / max(float(likely[top].sum()), 1e-300)
        drawn = drawn * np.sqrt(weight / max(drawn.shape[2], 1))[:, None, None]
        wide = drawn.transpose(1, 0, 2).reshape(len(change.seen_m), -1)
        lower = cholesky(change.noise + wide @ wide.T, lower=True)
        seen = solve_triangular(lower, change.seen_m, lower=True)
        made = at_spots(change, change.expected_m, middle)
        shape = solve_triangular(lower, made.T, lower=True)
        self.gram: Reals = shape.T @ shape
        self.with_seen: Reals = shape.T @ seen
        self.whole = float(seen @ seen)
        self.size = len(seen)
        self.spread_share = change.size_spread_share

    def of(self, with_seen: Reals, power: Reals) -> Reals:
        """Log likelihood of a shape with these products with what was seen and with itself."""
        scale = 1 + self.spread_share**2 * power
        misfit = self.whole - 2 * with_seen + power
        misfit -= self.spread_share**2 * (with_seen - power) ** 2 / scale
        far = np.log1p(misfit.clip(min=0.0) / TAIL)
        return np.asarray(-np.log(scale) / 2 - (TAIL + self.size) / 2 * far)

    def of_pairs(self) -> tuple[Reals, Reals]:
        """Log likelihood (M, M) of two leaks, averaged over `_PARTS`; mean share of the first."""
        own = np.diag(self.gram)
        each = np.empty((len(_PARTS), *self.gram.shape))
        for i, part in enumerate(_PARTS):
            rest = 1 - part
            power = part**2 * own[:, None] + rest**2 * own + 2 * part * rest * self.gram
            each[i] = self.of(part * self.with_seen[:, None] + rest * self.with_seen, power)
        top = each.max(axis=0)
        density = np.exp(each - top)
        total = density.sum(axis=0)
        share = np.tensordot(np.array(_PARTS), density, axes=1) / total
        return top + np.log(total / len(_PARTS)), np.asarray(share)


def _middles(place: Wholes, share: Reals) -> Wholes:
    """One spot of each place, that nearest the middle of its pipe."""
    order = np.lexsort((np.abs(share - 0.5), place))
    return np.asarray(order[np.unique(place[order], return_index=True)[1]])


def _log_mean(log_likelihood: Reals, weight: Reals) -> float:
    top = float(log_likelihood.max())
    return top + float(np.log(weight @ np.exp(log_likelihood - top)))


def _log_sums(rows: Reals) -> Reals:
    top = rows.max(axis=1)
    return np.asarray(top + np.log(np.exp(rows - top[:, None]).sum(axis=1)))
