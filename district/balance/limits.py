"""95 % limits: how they add, multiply, and what meters and lumpy use put into them.

The rule (Thornton, Sturm & Kunkel 2008, *Water Loss Control*, section 7.8): the variance of a
component is (volume x limit / 1.96)², and variances add for sums and for differences. Where the
two limits lie at unequal distances, the lower and the upper distances are each added in
quadrature.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any, NamedTuple

import numpy as np
import numpy.typing as npt

Array = npt.NDArray[np.float64]
Z_95 = 1.96
"""Standard deviations to a 95 % limit, rounded as the rule prints it."""
_LEAST_SKEWED, _MOST_SKEWED = 1e-4, 3.0
"""Skewness below which a law counts as normal, and up to which the quantiles are good."""
MEDIAN_FACTOR = float(np.sqrt(np.pi / 2))
"""Standard error of a median over that of a mean, normal scatter."""


class Estimate(NamedTuple):
    """A value with its 95 % limits; arrays of one shape, one unit."""

    value: Array
    low: Array
    high: Array


def estimate(value: Any, low: Any = None, high: Any = None) -> Estimate:
    """An `Estimate` from numbers or arrays; limits equal to the value where not given."""
    centre = np.asarray(value, dtype=float)
    return Estimate(
        centre,
        centre if low is None else np.asarray(low, dtype=float),
        centre if high is None else np.asarray(high, dtype=float),
    )


def from_deviation(value: Any, deviation: Any) -> Estimate:
    """Symmetric limits 1.96 standard deviations either side (same unit as `value`)."""
    centre, half = np.asarray(value, dtype=float), Z_95 * np.asarray(deviation, dtype=float)
    return Estimate(centre, centre - half, centre + half)


def skewed_limits(value: Any, deviation: Any, third: Any) -> Estimate:
    """95 % limits of a law with this mean, standard deviation and third central moment.

    The law is a gamma law, moved and turned so that all three agree (Pearson's type III); without
    third moment it is the normal one, 1.96 deviations either side. Quantiles by Wilson &
    Hilferty 1931 (from memory), within 0.04 deviations of the exact ones up to a skewness of 2.

    >>> found = skewed_limits(1.0, 1.0, 2.0)  # exponential law: 0.025 and 3.689
    >>> round(float(found.low), 3), round(float(found.high), 3)
    (0.013, 3.668)
    """
    centre, spread = np.asarray(value, dtype=float), np.asarray(deviation, dtype=float)
    cubed = np.where(spread > 0, spread, 1.0) ** 3
    skewness = np.clip(np.asarray(third, dtype=float) / cubed, -_MOST_SKEWED, _MOST_SKEWED)
    plain = np.abs(skewness) < _LEAST_SKEWED
    own = np.where(plain, 1.0, skewness)

    away = []
    for z in (-Z_95, Z_95):
        root = np.maximum(1.0 + own * z / 6.0 - own**2 / 36.0, 0.0)
        away.append(np.where(plain, z, (root**3 - 1.0) * 2.0 / own) * spread)
    return Estimate(centre, centre + away[0], centre + away[1])


def not_below_zero(part: Estimate) -> Estimate:
    """Use cannot be negative: its lower limit is shown as at least zero."""
    return Estimate(part.value, np.maximum(part.low, np.minimum(part.value, 0.0)), part.high)


def limit_variance(volume: Any, *, limit_share: Any) -> Array:
    """Variance of a component known to +- `limit_share` at 95 %; unit of `volume` squared.

    >>> round(float(limit_variance(7512.80, limit_share=0.0255)), 1)
    9553.7
    """
    return np.asarray((np.asarray(volume, dtype=float) * limit_share / Z_95) ** 2)


def combine_limits(*parts: Estimate, signs: Sequence[int] | None = None) -> Estimate:
    """The signed sum of independent parts, limits by variance.

    Parameters: `parts` of one shape and unit; `signs` +1 or -1 each (all +1 if not given).
    A part that is subtracted puts its upper limit into the lower limit of the result.
    """
    signs = signs or [1] * len(parts)
    shape = np.broadcast_shapes(*(p.value.shape for p in parts))
    value, below, above = np.zeros(shape), np.zeros(shape), np.zeros(shape)
    for part, sign in zip(parts, signs, strict=True):
        down, up = part.value - part.low, part.high - part.value
        value = value + sign * part.value
        below = below + (down if sign > 0 else up) ** 2
        above = above + (up if sign > 0 else down) ** 2
    return Estimate(value, value - np.sqrt(below), value + np.sqrt(above))


def multiply_limits(first: Estimate, second: Estimate) -> Estimate:
    """The product of two independent estimates, limits to first order by variance.

    Either may be negative: the limit that lowers the product is then the other one.
    """
    value = first.value * second.value
    below, above = np.zeros(value.shape), np.zeros(value.shape)
    for one, other in ((first, second.value), (second, first.value)):
        down, up = one.value - one.low, one.high - one.value
        below = below + (other * np.where(other >= 0, down, up)) ** 2
        above = above + (other * np.where(other >= 0, up, down)) ** 2
    return Estimate(value, value - np.sqrt(below), value + np.sqrt(above))


def scaled(part: Estimate, factor: Any) -> Estimate:
    """The estimate times an exact factor that is not negative (or NaN)."""
    return Estimate(part.value * factor, part.low * factor, part.high * factor)


def inverted(part: Estimate) -> Estimate:
    """One over a positive estimate, limits to first order; NaN where the value is not above 0."""
    value = np.where(part.value > 0, 1.0 / np.where(part.value > 0, part.value, 1.0), np.nan)
    return Estimate(
        value,
        value - (part.high - part.value) * value**2,
        value + (part.value - part.low) * value**2,
    )


def resolution_deviation_l_s(resolution_m3: Any, *, window_h: Any) -> Array:
    """Standard deviation of a mean flow, from the smallest step a device can show.

    The volume over the window is the difference of two readings, each cut to a step: its error
    is triangular over +- one step, variance step²/6 (hand calculation).
    """
    step = np.asarray(resolution_m3, dtype=float) * 1000.0
    return np.asarray(step / np.sqrt(6.0) / (np.asarray(window_h, dtype=float) * 3600.0))


def rounding_deviation_l_s(resolution_m3: Any, *, step_h: Any, window_h: Any) -> Array:
    """Standard deviation of a mean flow whose readings are each rounded to a step.

    The volume over the window is the sum of window / interval readings, each off by an even
    error within half a step: variance step²/12 a reading (hand calculation). Parameters:
    `resolution_m3` the step as a volume over one interval, `step_h` and `window_h` hours.
    """
    step = np.asarray(resolution_m3, dtype=float) * 1000.0
    window = np.asarray(window_h, dtype=float)
    return np.asarray(step * np.sqrt(window / step_h / 12.0) / (window * 3600.0))


def burst_moments(burst_l: float, *, spread_share: float) -> tuple[float, float]:
    """Mean square (L²) and mean cube (L³) of single draws over their mean (L).

    Draws follow a gamma law with mean `burst_l` (L) and 95 % limit `spread_share` of it.
    """
    relative = (spread_share / Z_95) ** 2
    square = burst_l * (1.0 + relative)
    return square, square * burst_l * (1.0 + 2.0 * relative)


def lumpy_use_deviation_l_s(use_burst_l2_s: Any, *, window_h: Any) -> Array:
    """Standard deviation of the mean flow of use drawn in bursts at random moments.

    Compound Poisson: variance of the volume = rate x window x mean square of a burst, with the
    rate of bursts = mean flow / mean burst. Parameters: `use_burst_l2_s` mean flow (L/s) times
    mean square over mean of a burst (L), summed over classes; `window_h` hours. Result in L/s.
    """
    seconds = np.asarray(window_h, dtype=float) * 3600.0
    return np.asarray(np.sqrt(np.asarray(use_burst_l2_s, dtype=float) / seconds))


def lumpy_use_third(use_burst_l3_s: Any, *, spread_l3_s2: Any, window_h: Any) -> Array:
    """Third central moment, (L/s)³, of the mean flow of use drawn in bursts about an unsure mean.

    Compound Poisson: rate x window x mean cube of a burst. A mean that is itself unsure adds three
    times its covariance with the variance (law of total cumulance). Parameters: `use_burst_l3_s`
    mean flow times mean cube over mean of a burst, `spread_l3_s2` squared mean flow times mean
    square over mean of a burst times squared relative deviation of the mean; summed over classes.
    """
    seconds = np.asarray(window_h, dtype=float) * 3600.0
    lumps = np.asarray(use_burst_l3_s, dtype=float) / seconds**2
    return np.asarray(lumps + 3.0 * np.asarray(spread_l3_s2, dtype=float) / seconds)
