"""The sources of variation of the loggers' daily means, as the network shapes them."""

from __future__ import annotations

import numpy as np

from district.hydraulics.model import Reals
from district.hydraulics.water import Demands, Drawn
from district.locate.pressure_noise import Part

LOGGER_M = 0.03
"""Scatter of a logger's mean over one block of a day."""
SOURCE_M = 0.05
"""Scatter of the source's head from day to day, and from block to block."""
DRIFT_M = 0.005
"""A logger's drift in a day, a random walk."""
DRAW_L_S = 20.0 / (6 * 3600)
"""Use comes in single draws of about 20 L: variance over mean of its flow in a block of 6 h."""
USE_SHARE, USE_WEEKS_SHARE = 0.3, 0.2
"""How far one connection's use departs from its mean, by the day and for some ten days."""
_WEEKS_KEPT = 0.9


def variation(
    drawn: Drawn, demands: Demands, sensitivity: Reals, use_l_s: Reals
) -> tuple[Part, ...]:
    """Parts of the noise over n = blocks x loggers, blocks outermost.

    Parameters: `sensitivity` (B, G, N), `use_l_s` (B, N) use of each node that no meter reads by
    the hour. The factors stand at the assumptions above (no source) until the readings move them.
    """
    blocks, loggers, nodes = sensitivity.shape
    apart, alike = np.eye(blocks), np.ones((blocks, blocks))
    moved = _at_same_inflow(demands, sensitivity)
    one = np.sqrt(use_l_s.clip(min=0.0))[:, None, :] * moved
    by_draws = np.zeros((blocks, loggers, blocks, loggers))
    for b in range(blocks):
        by_draws[b, :, b, :] = one[b] @ one[b].T
    size = blocks * loggers
    whole = (use_l_s / np.sqrt(_connections(drawn)))[:, None, :] * moved
    by_days = whole.reshape(size, nodes) @ whole.reshape(size, nodes).T
    all_loggers = np.ones((loggers, loggers))
    every = np.kron(alike, all_loggers)
    shapes = (
        *((np.kron(apart, np.diag(g)), LOGGER_M**2, 0.0) for g in np.eye(loggers)),
        (np.kron(apart, all_loggers), SOURCE_M**2, 0.0),
        (every, SOURCE_M**2, 0.0),
        (every, SOURCE_M**2, _WEEKS_KEPT),
        (by_draws.reshape(size, size), DRAW_L_S, 0.0),
        (by_days, USE_SHARE**2, 0.0),
        (by_days, USE_WEEKS_SHARE**2, _WEEKS_KEPT),
        (np.kron(alike, np.eye(loggers)), DRIFT_M**2, 1.0),
    )
    return tuple(Part(np.asarray(s, dtype=float), usual, kept) for s, usual, kept in shapes)


def _at_same_inflow(demands: Demands, sensitivity: Reals) -> Reals:
    """Sensitivity to a litre drawn at a node instead of spread over its cell's use."""
    member = (demands.use != 0).astype(float)
    return np.asarray(sensitivity - (sensitivity @ demands.use.T.toarray()) @ member.toarray())


def _connections(drawn: Drawn) -> Reals:
    """Number of connections (N) a node's draw is shared by, at least 1."""
    total = drawn.tap.sum(axis=0)
    squares = drawn.tap.multiply(drawn.tap).sum(axis=0)
    count = np.where(squares > 0, total**2 / np.where(squares > 0, squares, 1.0), 1.0)
    return np.asarray(count).ravel().clip(min=1.0)
