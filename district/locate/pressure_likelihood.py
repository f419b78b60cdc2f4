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
UNSEEN_SHARE = 0.2
"""Variance of the model's error that its few draws do not span, as a share of what they do: of 0,
0.15, 0.2, 0.3 and 1, one of the two that gave the true places of 36 leaks of 1 and 3 L/s in drawn
zones the highest probability, the less broad.
"""
_CHUNK, _EVERY, _AVERAGED = 1000, 4, 100


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
    if not len(change.share):
        return np.zeros(0)
    size = len(change.seen_m)
    white = _whitened(change)
    loggers = white.against.shape[1] - 1
    prior = np.full(loggers + 1, np.log(BAD_LOGGER_SHARE))
    prior[0] = np.log1p(-min(0.5, BAD_LOGGER_SHARE * loggers))
    done = [
        _misfits(change, white, slice(i, i + _CHUNK)) for i in range(0, len(change.share), _CHUNK)
    ]
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


@dataclass(frozen=True, eq=False)
class _White:
    """All turned so that the noise becomes independent with variance 1.

    made (P, n, B + K): expected change in each block by itself, and the draws of the model.
    against (n, 1 + loggers): change seen, and each logger's shift.
    scale (B + K, B + K): root of the covariance by which the columns of `made` vary.
    """

    made: Reals
    against: Reals
    scale: Reals


def _whitened(change: Change) -> _White:
    loggers, own = np.unique(change.logger, return_inverse=True)
    blocks, at_block = np.unique(change.block, return_inverse=True)
    points, size, draws = change.drawn_m.shape
    made = np.zeros((size, points, len(blocks) + draws))
    made[np.arange(size), :, at_block] = change.expected_m.T
    made[:, :, len(blocks) :] = change.drawn_m.transpose(1, 0, 2)
    against = np.zeros((size, 1 + len(loggers)))
    against[:, 0] = change.seen_m
    against[np.arange(size), 1 + own] = BAD_LOGGER_M
    lower = cholesky(change.noise, lower=True)
    flat = solve_triangular(lower, made.reshape(size, -1), lower=True)
    of_size = BLOCK_SHARE**2 * np.eye(len(blocks)) + change.size_spread_share**2
    scale = np.eye(len(blocks) + draws) / np.sqrt(max(draws, 1))
    scale[: len(blocks), : len(blocks)] = cholesky(of_size, lower=True)
    return _White(
        np.ascontiguousarray(flat.reshape(made.shape).transpose(1, 0, 2)),
        solve_triangular(lower, against, lower=True),
        scale,
    )


def _misfits(change: Change, white: _White, rows: slice) -> tuple[Reals, Reals]:
    """Squared distance and log spread of some spots (S, 1 + loggers): no logger shifted, or one.

    Products are taken once between the ends of each pipe; a spot's follow from its place there.
    """
    ends = np.column_stack([change.first[rows], change.second[rows]])
    ends, pipe = np.unique(ends, axis=0, return_inverse=True)
    pipe = pipe.ravel()
    both = np.concatenate([white.made[ends[:, 0]], white.made[ends[:, 1]]], axis=2)
    turned = both.transpose(0, 2, 1)
    gram, across = turned @ both, turned @ white.against
    wide = len(white.scale)
    to = change.share[rows][:, None, None]
    since = 1 - to
    mixed = gram[:, :wide, wide:] + gram[:, wide:, :wide]
    power = (
        since**2 * gram[pipe, :wide, :wide]
        + since * to * mixed[pipe]
        + to**2 * gram[pipe, wide:, wide:]
    )
    across = since * across[pipe, :wide] + to * across[pipe, wide:]

    blocks = len(np.unique(change.block))
    seen, shift = white.against[:, 0], white.against[:, 1:]
    alone = (shift**2).sum(axis=0)
    explained = across[:, :blocks].sum(axis=1)
    beyond = power[:, :, :blocks].sum(axis=2)
    misfit = seen @ seen - 2 * explained[:, 0] + beyond[:, :blocks].sum(axis=1)
    pull = shift.T @ seen - explained[:, 1:]
    across[:, :, 0] -= beyond

    across = white.scale.T @ across
    inner = white.scale.T @ power @ white.scale + np.eye(wide)
    part = np.linalg.solve(inner, across)
    misfit = misfit - (across[:, :, 0] * part[:, :, 0]).sum(axis=1)
    pull = pull - (across[:, :, 1:] * part[:, :, :1]).sum(axis=1)
    hold = alone - (across[:, :, 1:] * part[:, :, 1:]).sum(axis=1)
    misfits = np.column_stack([misfit, misfit[:, None] - pull**2 / (1 + hold)])
    root = np.linalg.cholesky(inner)
    spread = 2 * np.log(np.diagonal(root, axis1=1, axis2=2)).sum(axis=1)
    spreads = spread[:, None] + np.column_stack([np.zeros(len(spread)), np.log1p(hold)])
    return misfits.clip(min=0.0), spreads
