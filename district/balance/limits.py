"""What meters and lumpy use put into 95 % limits, and the limits of a skewed law."""

from __future__ import annotations

from typing import Any

import numpy as np

from district.estimates import Z_95, Array, Estimate

_LEAST_SKEWED, _MOST_SKEWED = 1e-4, 3.0
"""Skewness below which a law counts as normal, and up to which the quantiles are good."""
MEDIAN_FACTOR = float(np.sqrt(np.pi / 2))
"""Standard error of a median over that of a mean, normal scatter."""


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
