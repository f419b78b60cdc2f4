"""What a run of readings looks like: a register only rises, a rate goes up and down."""

from __future__ import annotations

from typing import Any

import numpy as np

_FEWEST = 5
_RISES_SHARE = 0.98
REGISTER = "values only rise, as of a register"
PULSES = "whole numbers that rise and fall, as of pulses"
RATE = "values that rise and fall, as of a rate or a pressure"
WET = "0 and 1 only, as of a sensor that gives alarm"


def shape_of(value: np.ndarray[Any, Any]) -> str:
    """What readings of one device, in order of time, look like; '' where they are too few.

    A register may fall now and then: it rolls over, or is replaced.
    """
    value = value[np.isfinite(value)]
    if len(value) < _FEWEST:
        return ""
    if np.isin(value, (0.0, 1.0)).all():
        return WET
    steps = np.diff(value)
    if (steps >= 0).mean() >= _RISES_SHARE and (steps > 0).any():
        return REGISTER
    if (steps == 0).all():
        return ""
    return PULSES if (value == np.round(value)).all() else RATE


def suits(shape: str, kind: str) -> bool:
    """Whether readings of that shape can come from a meter of that kind ('' is a register)."""
    if shape in (PULSES, RATE):
        return kind not in ("", "register")
    return shape != REGISTER or kind not in ("pulse", "electromagnetic", "transit_time")
