"""Shifts of level in the residuals of many cells at once, and how much chance makes of them."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
import pandas as pd

from district.balance.noise import SCATTER
from district.estimates import Array

WINDOW_DAYS = 56
"""A level is compared with at most this many days before it and after."""
LEAST_BEFORE = 10
LEAST_AFTER = 5
RHYTHM_DAYS = 84
"""Days needed before a weekday rhythm is taken out."""
LEAST_CELLS = 6
"""With fewer cells changes in some would pass for a change common to all."""
_SHORT, _LONG = 7, 21
_ALIKE_DAYS = 2.0
"""Variance of means over that of days which differ by chance alone: days resemble the last."""
_LOW_QUANTILE, _LOW_TO_SIGMA = 0.25, 1 / 0.318639
"""Leaks that begin and end spoil most differences of weeks: the calm quarter tells the noise."""
_SPIKE = 3.5


@dataclass(frozen=True, eq=False)
class Noise:
    """Variance of one day (`white`) and of the level's drift from day to day, by cell; L²/s²."""

    white: Array
    drift: Array

    def of(self, cells: Any) -> Noise:
        """That of the cells at these positions."""
        return Noise(self.white[cells], self.drift[cells])


def without_rhythm(
    values: Array, *, scale_l_s: Array, first_weekday: int, metered_share: Array
) -> Array:
    """Days x cells less the weekday rhythm of each cell and the ups and downs common to all.

    `metered_share` is how much more than usual those users draw on each day whose meters are
    read daily (all 0 where there are none): others do much the same.

    The rhythm is the median by weekday above a running week; the common part is each day's median
    over the cells in units of `scale_l_s` (their use), times each cell's own slope on it, fitted
    to differences of weeks so that a leak in one cell hardly touches it.
    """
    even = values.copy()
    if len(even) >= RHYTHM_DAYS:
        above = even - pd.DataFrame(even).rolling(7, center=True, min_periods=4).median().to_numpy()
        weekday = (np.arange(len(even)) + first_weekday) % 7
        effect = _medians(above, weekday)
        even = even - (effect - effect.mean(axis=0))[weekday]
    if len(even) < 2:
        return even
    even = _without(even, metered_share, scale_l_s)
    # A cell with next to no use shows its meters, not what is common.
    large = scale_l_s >= 0.1 * np.median(scale_l_s)
    if large.sum() < LEAST_CELLS:
        return even
    centred = (even - _median(even, 0)) / scale_l_s
    return _without(even, np.nan_to_num(_median(centred[:, large], 1)), scale_l_s)


def _without(even: Array, common: Array, scale_l_s: Array) -> Array:
    """Less each cell's slope on `common` (days), between 0 and 3 times its scale.

    A slope that hardly stands out of its own error is drawn towards none.
    """
    # Weeks, for day by day what few meters tell is mostly their own chance.
    step = np.nan_to_num(_week_differences(common[:, None]))
    moved = _week_differences(even)
    # Of the differences, those far out are leaks, works and repairs: they tell no slope.
    rough = np.maximum(_scale(moved), 1e-12)
    moved = np.clip(moved, -_SPIKE * rough, _SPIKE * rough)
    square = np.where(np.isfinite(moved), step**2, 0.0).sum(axis=0)
    slope = np.nansum(moved * step, axis=0) / np.maximum(square, 1e-12)
    # Running weeks resemble the next: a seventh of them tell something of their own.
    error = _SHORT * rough**2 / np.maximum(square, 1e-12)
    slope *= np.maximum(0.0, 1.0 - 4.0 * error / np.maximum(slope**2, 1e-12))
    return np.asarray(even - np.clip(slope, 0.0, 3.0 * scale_l_s) * common[:, None])


def noise(values: Array, *, floor_l_s: Array, drift_l_s: Array, settled: bool) -> Noise:
    """What days x cells do by chance: from how means of 7 and of 21 days differ from the next.

    Of independent days with variance v and a level that drifts by variance w a day, means of m
    days differ from the next m by 2 v / m + 2 m w / 3. Steps hardly count, for scales are by the
    calm quarter of the differences. Parameters: `floor_l_s` the least deviation of a day;
    `drift_l_s` that of the level over 100 days. Leaks that come and go would feign more of both:
    only where they are taken off (`settled`) do the weeks tell; else twice what days tell holds.
    """
    daily = _scale(np.diff(values, axis=0)) ** 2 / 2 if len(values) > 1 else 0 * floor_l_s
    drift = drift_l_s**2 / 100.0
    if not settled:
        return Noise(np.fmax(_ALIKE_DAYS * daily, floor_l_s**2), drift)
    near, far = _between_means(values, _SHORT), _between_means(values, _LONG)
    slow = (far - near / 3.0) / (_LONG * 2 / 3 - _SHORT * 2 / 9)
    # A short record holds few independent means of weeks: what they say of drift weighs little.
    drift = np.fmax(drift, slow * min(max((len(values) - 60) / 300, 0.0), 1.0))
    white = _SHORT / 2 * (near - _SHORT * 2 / 3 * drift)
    return Noise(np.fmax(np.fmax(white, daily), floor_l_s**2), drift)


def mean_after(values: Array) -> Array:
    """Mean of up to 56 days from each day on, same shape; 0 where none is known."""
    known = np.isfinite(values)
    total = np.vstack([np.zeros(values.shape[1]), np.cumsum(np.nan_to_num(values), axis=0)])
    count = np.vstack([np.zeros(values.shape[1]), np.cumsum(known, axis=0)])
    at = np.arange(len(values))
    end = np.minimum(at + WINDOW_DAYS, len(values))
    return np.asarray((total[end] - total[at]) / np.maximum(count[end] - count[at], 1))


def alike(first: Array, second: Array) -> Array:
    """Correlation by cell of two kinds of residual over weeks, by robust scales; at most 0.8.

    From the scales of sum and difference (Gnanadesikan & Kettenring 1972, Biometrics 28, from
    memory), drawn a fifth of the way to none.
    """
    one, two = (_week_differences(v) for v in (first, second))
    one, two = one / np.fmax(_scale(one), 1e-12), two / np.fmax(_scale(two), 1e-12)
    plus, minus = _scale(one + two) ** 2, _scale(one - two) ** 2
    found = np.where(plus + minus > 0, (plus - minus) / np.maximum(plus + minus, 1e-12), 0.0)
    return np.asarray(np.clip(0.8 * np.nan_to_num(found), -0.8, 0.8))


def _week_differences(values: Array) -> Array:
    mean = _rolling(values, _SHORT)
    return mean[_SHORT:] - mean[:-_SHORT]


def _between_means(values: Array, length: int) -> Array:
    mean = _rolling(values, length)
    if len(values) <= 2 * length:
        return np.full(values.shape[1], np.nan)
    apart = np.sort(np.abs(mean[length:] - mean[:-length]), axis=0)  # NaN last
    count = np.isfinite(apart).sum(axis=0)
    at = np.minimum((_LOW_QUANTILE * count).astype(int), len(apart) - 1)
    calm = np.take_along_axis(apart, at[None], axis=0)[0]
    return np.asarray((calm * _LOW_TO_SIGMA) ** 2)


def _rolling(values: Array, length: int) -> Array:
    """Mean of `length` days up to each, NaN where fewer than two in three are known."""
    known = np.isfinite(values)
    none = np.zeros((1, values.shape[1]))
    total = np.vstack([none, np.cumsum(np.where(known, values, 0.0), axis=0)])
    count = np.vstack([none, np.cumsum(known, axis=0)])
    begin = np.maximum(np.arange(len(values)) + 1 - length, 0)
    n = count[1:] - count[begin]
    mean = (total[1:] - total[begin]) / np.maximum(n, 1)
    return np.asarray(np.where(n >= max(length * 2 // 3, 1), mean, np.nan))


def tamed(values: Array, made: Noise) -> Array:
    """Lone spikes limited: none further than 3.5 sigma from the median of five days around it."""
    if not len(values):
        return values
    padded = np.vstack([values[:1], values[:1], values, values[-1:], values[-1:]])
    windows = np.lib.stride_tricks.sliding_window_view(padded, 5, axis=0)
    middle = _median(windows, 2)
    reach = _SPIKE * np.sqrt(made.white)
    return np.asarray(np.clip(values, middle - reach, middle + reach))


def _medians(values: Array, group: Any) -> Array:
    frame = pd.DataFrame(values).groupby(group).median()
    return np.asarray(np.nan_to_num(frame.to_numpy(dtype=float)))


def _scale(values: Array) -> Array:
    """Standard deviation over the rows by the median of absolute values; NaN without any."""
    return np.asarray(SCATTER * _median(np.abs(values), 0))


def _median(values: Array, axis: int) -> Array:
    """Median of what is known; NaN where nothing is, without a warning."""
    ordered = np.sort(values, axis=axis)  # NaN last
    count = np.isfinite(values).sum(axis=axis, keepdims=True)
    low, high = np.maximum((count - 1) // 2, 0), np.minimum(count // 2, values.shape[axis] - 1)
    if not values.shape[axis]:
        return np.full(np.delete(values.shape, axis), np.nan)
    pair = (np.take_along_axis(ordered, i, axis=axis).squeeze(axis) for i in (low, high))
    return np.asarray(sum(pair) / 2.0)
