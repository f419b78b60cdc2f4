"""Levels of tanks: which readings stand."""

from __future__ import annotations

import math
from typing import Any

import numpy as np

from district.intake.clean import jumps, stuck

_JUMP_M = 0.5
_LIKELY_M = (-450.0, 6000.0)
"""A level may be given above the tank's floor or above the sea: its changes alone are used."""
_STUCK_H = 24.0
"""A float valve may hold a tank full for a night; none is used so little that it stays so for a
day (common practice, no source)."""
Array = np.ndarray[Any, Any]


def sound_levels(level_m: Array, hours: Array) -> tuple[Array, Array]:
    """Which levels cannot stand: lone jumps, and those of a level that stood still for a day.

    `hours` are the instants of the readings, in order.
    """
    low, high = _LIKELY_M
    jumped = jumps(level_m, least_m=_JUMP_M) | (level_m < low) | (level_m > high)
    still = np.zeros(len(level_m), dtype=bool)
    rest = np.flatnonzero(~jumped)
    if len(rest) > 1:
        length = np.diff(hours[rest])
        # Told by how little it changes, not by how near zero it is.
        above = level_m[rest] - level_m[rest].min() + 1.0
        span = np.append(length, np.median(length))
        still[rest] = stuck(above, span, step=math.nan, least_h=_STUCK_H)
    return jumped, still
