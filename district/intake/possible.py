"""What cannot pass through a meter: more than it can carry, or water the wrong way."""

from __future__ import annotations

import math
from typing import Any

import numpy as np

FASTEST_M_S = 10.0
"""Beyond the range of full-bore meters; mains see 1 to 3 m/s (common practice, no source)."""
MOST_SHARE = 0.1
"""Where more of a record than this is beyond, its unit is wrong, not its readings."""
_NOISE_SHARE = 0.01
"""A rate meter at rest wavers about zero by as much of its usual largest flow (common practice)."""
_USUAL_LARGEST = 0.99
_SIGN_SHARE = 0.5
Array = np.ndarray[Any, Any]


def most_through_m3_h(bore_m: float) -> float:
    """Flow at 10 m/s through a bore.

    >>> round(most_through_m3_h(0.1))
    283
    """
    return FASTEST_M_S * math.pi / 4.0 * bore_m**2 * 3600.0


def beyond(volume_m3: Array, span_h: Array, *, most_m3_h: float, step_m3: float) -> Array:
    """Intervals whose mean flow, less one step of the meter, is above `most_m3_h`."""
    if math.isnan(most_m3_h):
        return np.zeros(len(volume_m3), dtype=bool)
    slack = 0.0 if math.isnan(step_m3) else step_m3
    return np.asarray(np.abs(volume_m3) - slack > most_m3_h * span_h * (1.0 + 1e-9))


def backward(rate: Array, *, step: float) -> Array:
    """Rates below zero by more than a meter at rest wavers.

    None where half or more of the flow runs backwards: then the sign of the record is wrong, and
    that is told elsewhere.
    """
    below = rate < 0
    flowing = rate[np.isfinite(rate) & (rate != 0)]
    if not below.any() or float((flowing < 0).mean()) >= _SIGN_SHARE:
        return np.zeros(len(rate), dtype=bool)
    noise = _NOISE_SHARE * float(np.quantile(np.abs(flowing), _USUAL_LARGEST))
    return np.asarray(rate < -max(noise, 0.0 if math.isnan(step) else step))
