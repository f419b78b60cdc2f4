"""Powers that keep a finite slope at zero, so that Newton's method has something to divide by."""

from __future__ import annotations

from typing import Any

import numpy as np

from district.hydraulics.model import Reals


def odd_power(x: Any, exponent: Any, joined: Any) -> tuple[Reals, Reals]:
    """sign(x) |x|^exponent and its slope; below `joined` a cubic of the same value and slope there.

    The cubic a x + b x^3 rises everywhere for exponents above 0 and below 3, and is our own.

    >>> [round(float(v), 3) for v in odd_power(2.0, 2.0, 0.1)]
    [4.0, 4.0]
    >>> [round(float(v), 4) for v in odd_power(0.0, 2.0, 0.1)]
    [0.0, 0.05]
    """
    size = np.abs(x)
    below = np.minimum(size / joined, 1.0) ** 2
    power = np.maximum(size, joined) ** (exponent - 1.0)
    value = x * power * (0.5 * (3.0 - exponent) + 0.5 * (exponent - 1.0) * below)
    slope = power * np.where(
        size < joined, 0.5 * (3.0 - exponent) + 1.5 * (exponent - 1.0) * below, exponent
    )
    return np.asarray(value), np.asarray(slope)
