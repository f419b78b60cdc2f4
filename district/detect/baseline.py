"""Night flows made ready for the change test: on one calendar, their noise known."""

from __future__ import annotations

from typing import Any

import numpy as np
import pandas as pd

Reals = np.ndarray[Any, np.dtype[np.float64]]
Flags = np.ndarray[Any, np.dtype[np.bool_]]
Ints = np.ndarray[Any, np.dtype[np.intp]]

_TO_SIGMA = 1.482602218505602  # MAD of a normal variable, to its standard deviation
_KEPT_VARIANCE = 0.9733369  # variance of a standard normal variable cut at +-3


def on_calendar(
    rows: pd.DataFrame, key: str, value: str, axis: pd.DatetimeIndex
) -> tuple[list[str], Reals]:
    """Places in the order of their names, and their values, shape (nights, places).

    `rows` has the columns `night`, `key` and `value`, in any order; `axis` every date from the
    first to the last night. Repeated nights are averaged; NaN where there is none.
    """
    codes, names = pd.factorize(rows[key], sort=True)
    if not len(names):
        return [], np.empty((len(axis), 0))
    values = rows[value].to_numpy(dtype=float)
    night = (pd.DatetimeIndex(rows["night"]) - axis[0]).days.to_numpy()
    # Long tables go place by place: so they are written on end.
    at = codes * len(axis) + night
    usable = np.isfinite(values) & (codes >= 0)
    if not usable.all():
        at, values = at[usable], values[usable]
    cells = len(axis) * len(names)
    there = np.zeros(cells, dtype=bool)
    there[at] = True
    mean = np.full(cells, np.nan)
    if np.count_nonzero(there) == len(at):
        mean[at] = values
        mean += 0.0  # A sum begins with 0, which leaves no -0.
    else:
        total = np.bincount(at, weights=values, minlength=cells)
        count = np.bincount(at, minlength=cells)
        np.divide(total, count, out=mean, where=there)
    by_night = np.ascontiguousarray(mean.reshape(len(names), len(axis)).T)
    return [str(n) for n in names], by_night


def noises_l_s(flow_l_s: Reals, *, floor_l_s: float = 0.0) -> tuple[Reals, Reals, Reals]:
    """Standard deviation that the mean of several nights behaves by, and its 95 % limits, L/s.

    Parameters: `flow_l_s` shape (places, nights), NaN where a night is missing. Gives three arrays
    of shape (places,).

    Taken from differences between nights (median absolute deviation, then the standard
    deviation of the differences within three of it; more if one in twenty is larger than that
    allows), so that steps do not count. Where neighbouring nights resemble each other, the
    long-run value sd x sqrt((1 + r) / (1 - r)) is given, with the correlation r from the spread
    of differences over two nights against one. Never less than `floor_l_s`.

    Limits: the logarithm scatters by sqrt(3 / nights) where nights do not resemble each other and
    by sqrt(20 / nights) where they do, at most 0.6 (regression values of drawn series). That they
    do may go unseen, so the upper limit allows for it.
    """
    count = np.isfinite(flow_l_s).sum(axis=1)
    one = _spreads(flow_l_s[:, 1:] - flow_l_s[:, :-1])
    two = _spreads(flow_l_s[:, 2:] - flow_l_s[:, :-2])
    seen = np.maximum(count, 1)
    some = (one > 0) & (count >= 3)
    # The ratio itself scatters by about sqrt(3 / nights): less is not believed, twice as much is.
    more = (two / np.where(some, one, 1.0)) ** 2 - 1
    alike = np.clip(np.minimum(more, 2 * (more - np.sqrt(3 / seen))), 0.0, 0.7)
    long_run = one / np.sqrt(2) * np.sqrt(1 + alike) / (1 - alike)
    sigma = np.maximum(floor_l_s, np.where(some, long_run, two / np.sqrt(2)))
    below, above = (np.exp(1.96 * np.minimum(0.6, np.sqrt(v / seen))) for v in (3.0, 20.0))
    low = sigma / np.where(some & (alike > 0), above, below)
    return sigma, np.maximum(floor_l_s, low), sigma * above


def _spreads(differences: Reals) -> Reals:
    """Of each row: the spread of its middle, more where one in twenty is further out."""
    count = np.isfinite(differences).sum(axis=1)
    if not differences.shape[1]:
        return np.zeros(len(differences))
    apart = np.sort(np.abs(differences), axis=1)  # missing ones come last
    rough = np.where(count > 0, _quantile(apart, count, 0.5), 0.0) * _TO_SIGMA
    inside = apart <= 3 * rough[:, None]
    squares = np.square(apart, out=np.zeros_like(apart), where=inside).sum(axis=1)
    core = np.sqrt(squares / np.maximum(inside.sum(axis=1), 1) / _KEPT_VARIANCE)
    # Lumpy use: one night in twenty may differ this much without anything having changed.
    tail = np.where(count > 0, _quantile(apart, count, 0.95), 0.0) / 1.959964
    return np.asarray(np.maximum(core, tail))


def _quantile(ordered: Reals, count: Ints, share: float) -> Reals:
    at = share * np.maximum(count - 1, 0)
    below = np.floor(at).astype(np.intp)
    above = np.minimum(below + 1, np.maximum(count - 1, 0))
    row = np.arange(len(ordered))
    low, high = ordered[row, below], ordered[row, above]
    return np.asarray(low + (at - below) * (high - low))
