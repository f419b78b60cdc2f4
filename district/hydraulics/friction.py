"""How rough a pipe is to the water: the Darcy friction factor from laminar to turbulent flow."""

from __future__ import annotations

from typing import Any, NamedTuple

import numpy as np

from district.hydraulics.model import Reals

LAMINAR, TURBULENT = 2000.0, 4000.0
"""Reynolds numbers up to which 64/Re, and from which Colebrook-White, holds (common practice)."""
ROUGHEST_SHARE = 0.05
"""Roughness over diameter where Moody's diagram ends (from memory); rougher pipes count as this."""
_ROUNDS = 3
"""Newton steps from the explicit start to the last digit of Colebrook-White."""
_DECADE = 2.0 / np.log(10.0)


class Drag(NamedTuple):
    """Friction factor x Re^2, which grows as the head lost does, and its slopes."""

    drag: Reals
    by_reynolds: Reals
    by_log_roughness: Reals


def friction_factor(reynolds: Any, relative_roughness: Any) -> Reals:
    """Darcy's friction factor at Reynolds numbers above zero; roughness as a share of the diameter.

    >>> friction_factor([1000.0, 1e5], 1e-3).round(5).tolist()
    [0.064, 0.02217]
    """
    re = np.asarray(reynolds, dtype=float)
    return np.asarray(drag(re, relative_roughness).drag / re**2)


def drag(reynolds: Any, relative_roughness: Any) -> Drag:
    """`friction_factor` x Re^2 at Reynolds numbers of zero and more, with its slopes.

    64/Re in laminar flow; Colebrook 1939 in turbulent flow, 1/sqrt(f) = -2 log10(k/3.7 + 2.51 /
    (Re sqrt(f))). Between, one fades into the other by a weight without slope at its ends, so
    that value and slope meet (our own).
    """
    re = np.asarray(reynolds, dtype=float)
    share = np.minimum(np.asarray(relative_roughness, dtype=float), ROUGHEST_SHARE)
    rough = _colebrook(np.maximum(re, LAMINAR), share)
    width = TURBULENT - LAMINAR
    t = np.clip((re - LAMINAR) / width, 0.0, 1.0)
    weight, fading = t * t * (3.0 - 2.0 * t), 6.0 * t * (1.0 - t) / width
    smooth = 64.0 * re
    return Drag(
        smooth + weight * (rough.drag - smooth),
        64.0 + weight * (rough.by_reynolds - 64.0) + fading * (rough.drag - smooth),
        np.where(share < ROUGHEST_SHARE, weight * rough.by_log_roughness, 0.0),
    )


def _colebrook(re: Reals, share: Reals) -> Drag:
    # x = 1/sqrt(f), sought by Newton's method from the start of Swamee & Jain 1976.
    x = -2.0 * np.log10(share / 3.7 + 5.74 / re**0.9)
    for _ in range(_ROUNDS):
        inside = share / 3.7 + 2.51 * x / re
        x = x - (x + _DECADE * np.log(inside)) / (1.0 + _DECADE * 2.51 / (re * inside))
    inside = share / 3.7 + 2.51 * x / re
    turn = 1.0 + _DECADE * 2.51 / (re * inside)
    x_by_re = _DECADE * 2.51 * x / (re**2 * inside) / turn
    x_by_log_share = -_DECADE * share / (3.7 * inside) / turn
    y = (re / x) ** 2
    return Drag(y, 2.0 * y * (1.0 / re - x_by_re / x), -2.0 * y * x_by_log_share / x)
