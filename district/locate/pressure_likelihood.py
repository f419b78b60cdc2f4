"""How well a leak at each spot explains the change at the loggers, whatever its exact size."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any

import numpy as np
from scipy.linalg import cholesky, solve_triangular
from scipy.special import logsumexp

from district.hydraulics.model import Reals, Wholes

TAIL = 8.0
"""Degrees of freedom of the scale of all errors together: how sure the noise's size is."""
BAD_LOGGER_SHARE = 0.02
"""Chance that a logger shifted by itself between the windows (assumption, no source)."""
BAD_LOGGER_M = 1.0
"""How far it then shifts (standard deviation; assumption, no source)."""
BLOCK_SHARE = 0.1
"""Standard deviation of the leak's flow in one block of the day about what its pressure there
makes of its size (assumption: the power by which leaks follow pressure is not well known)."""
UNSEEN_SHARE = 1.0
"""Variance of the model's error that its few draws do not span, as a share of what they do; over
drawn zones with many loggers and a large leak this makes the stated sets hold more often.
"""
_CHUNK, _EVERY, _AVERAGED = 2000, 4, 100


@dataclass(frozen=True, eq=False)
class Change:
    """The change of head that was seen, and what a leak at each of P points would have made.

    n = blocks of the day x loggers.
    seen_m (n)
        change seen, less that which the change of all measured flows explains.
    noise (n, n)
        covariance of `seen_m` without any leak, m2.
    logger, block (n)
        position of each row's logger, and its block.
    expected_m (P, n)
        for a leak of the stated size.
    size_spread_share
        standard deviation of the stated size, as a share of it.
    drawn_m (P, n, K)
        departures from `expected_m` in K draws of what the model does not know.
    first, second (S), share (S)
        each of S spots lies `share` of the way from point `first` to point `second`.
    """

    seen_m: Reals
    noise: Reals
    logger: Any
    block: Wholes
    expected_m: Reals
    size_spread_share: float
    drawn_m: Reals
    first: Wholes
    second: Wholes
    share: Reals


def log_likelihood(change: Change) -> Reals:
    """Log likelihood (S) of a leak at each spot, up to a constant.

    Normal in the noise, the leak's size and the draws (as a low-rank covariance of each spot);
    the scale of everything has the tail of Student's t, so that a model that fits badly makes
    the answer broad instead of sure; and one of the loggers may have shifted by itself.
    """
    size = len(change.seen_m)
    lower = cholesky(change.noise, lower=True)
    loggers = np.unique(change.logger)
    jump = np.zeros((size, len(loggers)))
    jump[np.arange(size), np.searchsorted(loggers, change.logger)] = BAD_LOGGER_M
    white_jump = solve_triangular(lower, jump, lower=True)
    prior = np.full(len(loggers) + 1, np.log(BAD_LOGGER_SHARE))
    prior[0] = np.log1p(-min(0.5, BAD_LOGGER_SHARE * len(loggers)))
    done = [
        _misfits(change, lower, white_jump, slice(i, i + _CHUNK))
        for i in range(0, len(change.share), _CHUNK)
    ]
    if not done:
        return np.zeros(0)
    misfits, spreads = (np.concatenate(part) for part in zip(*done, strict=True))
    # A fit closer than errors of this size allow is luck: it makes nothing surer than they do.
    trust = min(1.0, (TAIL + float(misfits.min())) / (TAIL + size))
    far = trust * (TAIL + size) / 2 * np.log1p(misfits / TAIL)
    return np.asarray(logsumexp(prior - spreads / 2 - far, axis=1))


def broadened(change: Change, prior: Reals) -> Change:
    """The change, its noise with the part of the model's error that the draws do not span.

    Parameters: `prior` (S). The draws' variance is averaged over where the leak likely is, which
    every few spots tell.
    """
    if not change.drawn_m.shape[2]:
        return change
    some = np.arange(0, len(change.share), _EVERY)
    fewer = replace(
        change, first=change.first[some], second=change.second[some], share=change.share[some]
    )
    told = log_likelihood(fewer)
    weight = prior[some] * np.exp(told - told.max())
    likely = np.argsort(-weight, kind="stable")[:_AVERAGED]
    variance = (at_spots(fewer, change.drawn_m, likely) ** 2).mean(axis=2)
    mean = weight[likely] @ variance / weight[likely].sum()
    return replace(change, noise=change.noise + np.diag(UNSEEN_SHARE * mean))


def at_spots(change: Change, at_points: Reals, rows: slice | Wholes) -> Reals:
    """Values of the points (P, ...) as they are at some spots: heads change evenly along a pipe."""
    share = change.share[rows].reshape(-1, *(1 for _ in at_points.shape[1:]))
    first, second = at_points[change.first[rows]], at_points[change.second[rows]]
    return np.asarray(first + share * (second - first))


def _misfits(change: Change, lower: Reals, white_jump: Reals, rows: slice) -> tuple[Reals, Reals]:
    """Squared distance and log spread of some spots (S, 1 + loggers): no logger shifted, or one."""
    draws = change.drawn_m.shape[2]
    expected = at_spots(change, change.expected_m, rows)
    left = _whitened(lower, (change.seen_m - expected)[:, :, None])
    wide = np.concatenate(
        [
            change.size_spread_share * expected[:, :, None],
            BLOCK_SHARE * expected[:, :, None] * (change.block[:, None] == np.unique(change.block)),
            at_spots(change, change.drawn_m, rows) / np.sqrt(max(draws, 1)),
        ],
        axis=2,
    )
    wide = _whitened(lower, wide)
    turned = wide.transpose(0, 2, 1)
    inner = turned @ wide + np.eye(wide.shape[2])
    against = np.concatenate([left, np.broadcast_to(white_jump, (len(left), *white_jump.shape))], 2)
    across = turned @ against
    part = np.linalg.solve(inner, across)
    square = (against.transpose(0, 2, 1) @ left)[:, :, 0] - (
        across.transpose(0, 2, 1) @ part[:, :, :1]
    )[:, :, 0]
    misfit, pull = square[:, 0], square[:, 1:]
    hold = (white_jump**2).sum(axis=0) - (across[:, :, 1:] * part[:, :, 1:]).sum(axis=1)
    misfits = np.column_stack([misfit, misfit[:, None] - pull**2 / (1 + hold)])
    spread = np.linalg.slogdet(inner)[1]
    spreads = spread[:, None] + np.column_stack([np.zeros(len(spread)), np.log1p(hold)])
    return misfits.clip(min=0.0), spreads


def _whitened(lower: Reals, rows: Reals) -> Reals:
    """Rows (S, n, R) turned so that the noise becomes independent with variance 1."""
    count, size, rank = rows.shape
    flat = rows.transpose(1, 0, 2).reshape(size, count * rank)
    done = solve_triangular(lower, flat, lower=True)
    return np.asarray(done.reshape(size, count, rank).transpose(1, 0, 2))
