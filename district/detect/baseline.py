"""Night flows made ready for the change test: a regular calendar, usual rhythm out, noise known."""

from __future__ import annotations

from typing import Any

import numpy as np
import pandas as pd

Reals = np.ndarray[Any, np.dtype[np.float64]]
Flags = np.ndarray[Any, np.dtype[np.bool_]]
Ints = np.ndarray[Any, np.dtype[np.intp]]

WEEKDAY_NIGHTS = 56
"""Nights needed before a weekday rhythm is taken out."""
SEASON_NIGHTS = 3 * 365
"""Nights needed before a season is: with fewer years a long leak would pass for one."""
_TO_SIGMA = 1.482602218505602  # MAD of a normal variable, to its standard deviation
_KEPT_VARIANCE = 0.9733369  # variance of a standard normal variable cut at +-3


def regular(nights: pd.Series[Any], flow_l_s: pd.Series[Any]) -> pd.Series[Any]:
    """One value a calendar night from the first to the last usable one, NaN where there is none.

    `nights` holds dates, `flow_l_s` flows in L/s, in any order. Repeated nights are averaged.
    Empty input gives an empty series.
    """
    usable = pd.Series(
        np.asarray(flow_l_s, dtype=float), index=pd.DatetimeIndex(pd.to_datetime(nights))
    )
    usable = usable[np.isfinite(usable)].groupby(level=0).mean().sort_index()
    if usable.empty:
        return usable
    return usable.reindex(pd.date_range(usable.index[0], usable.index[-1], freq="D"))


def without_rhythm(flow_l_s: pd.Series[Any]) -> pd.Series[Any]:
    """The flow less its weekday rhythm (from eight weeks on) and season (from three years on).

    Both are medians of what remains above a running median, so that leaks and bursts hardly
    touch them, and are shrunk towards nothing where they do not stand out of the noise
    (positive-part James-Stein; Efron & Morris 1973, J Am Stat Assoc 68, from memory).
    Takes and gives a series of L/s on a daily calendar; the input is not changed.
    """
    even = flow_l_s.copy()
    if even.notna().sum() >= SEASON_NIGHTS:
        above = even - even.rolling(365, center=True, min_periods=180).median()
        even = even - _effect(above, np.asarray(even.index.day_of_year) // 15)
    if even.notna().sum() >= WEEKDAY_NIGHTS:
        above = even - even.rolling(7, center=True, min_periods=4).median()
        even = even - _effect(above, np.asarray(even.index.day_of_week))
    return even


def _effect(above: pd.Series[Any], group: Any) -> Reals:
    by_group = above.groupby(group)
    middle = by_group.median()
    spread = float((above - above.median()).abs().median()) * _TO_SIGMA
    error = np.pi / 2 * spread**2 / by_group.count().clip(lower=1)  # variance of a median
    middle = (middle - middle.mean()).fillna(0.0)
    total = float((middle**2).sum())
    groups = len(middle)
    kept = max(0.0, 1 - (groups - 3) * float(error.mean()) / total) if total > 0 else 0.0
    return np.asarray(pd.Series(group).map(middle * kept), dtype=float)


def noise_l_s(flow_l_s: pd.Series[Any], *, floor_l_s: float = 0.0) -> float:
    """Standard deviation that the mean of several nights behaves by, L/s.

    Taken from differences between nights (median absolute deviation, then the standard
    deviation of the differences within three of it; more if one in twenty is larger than that
    allows), so that steps do not count. Where
    neighbouring nights resemble each other, the long-run value sd x sqrt((1 + r) / (1 - r)) is
    given, with the correlation r from the spread of differences over two nights against one.
    Never less than `floor_l_s`.
    """
    return max(floor_l_s, _noise(flow_l_s.to_numpy(dtype=float))[0])


def noise_limits_l_s(flow_l_s: pd.Series[Any], *, floor_l_s: float = 0.0) -> tuple[float, float]:
    """95 % limits of `noise_l_s` by the number of nights, L/s.

    Its logarithm scatters by sqrt(3 / nights) where nights do not resemble each other and by
    sqrt(20 / nights) where they do, at most 0.6 (regression values of drawn series). That they do
    may go unseen, so the upper limit allows for it.
    """
    values = flow_l_s.to_numpy(dtype=float)
    sigma, alike = _noise(values)
    count = max(1, int(np.isfinite(values).sum()))
    below, above = (float(np.exp(1.96 * min(0.6, (v / count) ** 0.5))) for v in (3.0, 20.0))
    middle = max(floor_l_s, sigma)
    return max(floor_l_s, middle / (above if alike else below)), middle * above


def _noise(values: Reals) -> tuple[float, bool]:
    """The noise, and whether nights resemble their neighbours."""
    one, two = _spread(values[1:] - values[:-1]), _spread(values[2:] - values[:-2])
    count = int(np.isfinite(values).sum())
    if one <= 0 or count < 3:
        return (float(np.sqrt(two**2 / 2)) if two > 0 else 0.0), False
    # The ratio itself scatters by about sqrt(3 / nights): less is not believed, twice as much is.
    seen, scatter = (two / one) ** 2 - 1, np.sqrt(3 / count)
    alike = float(np.clip(min(seen, 2 * (seen - scatter)), 0.0, 0.7))
    return float(one / np.sqrt(2) * np.sqrt(1 + alike) / (1 - alike)), alike > 0


def _spread(differences: Reals) -> float:
    known = differences[np.isfinite(differences)]
    if not len(known):
        return 0.0
    rough = float(np.median(np.abs(known))) * _TO_SIGMA
    inside = known[np.abs(known) <= 3 * rough]
    core = float(np.sqrt(np.mean(inside**2) / _KEPT_VARIANCE))
    # Lumpy use: one night in twenty may differ this much without anything having changed.
    return max(core, float(np.quantile(np.abs(known), 0.95)) / 1.959964)
