"""How a zone's day changed: mean flow by hour before and after, and how sure the change is."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from district.detect.baseline import Reals
from district.detect.hours import AFTER_DAYS, BEFORE_DAYS, Hours

HOURS = 48
"""Twenty-four of a working day, then twenty-four of a Saturday or Sunday."""
FEWEST_DAYS = 7
"""Days before a change without which its hours tell nothing."""
UNKNOWN = 1e6
"""Variance, in units of the size squared, of an hour that is not known."""
_CLIP = 3.5  # hours further from the middle than this many deviations count as so far
_TO_SIGMA = 1.482602218505602
_KEPT = 0.7  # of the covariances between hours; few days do not tell all of them
_LEAST_DRIFT = 0.01  # share by which a usual day drifts at the least
_OWN_DRIFT = 0.02  # share by which each hour drifts by itself
_WEEK = 7


@dataclass(frozen=True, eq=False)
class Shifts:
    """Changes by hour of day, one a row; hours as `HOURS` tells."""

    known: npt.NDArray[np.bool_]
    """Shape (changes,): whether there are hours enough."""
    change_l_s: Reals
    """Shape (changes, 48); 0 where unknown, with a very large variance."""
    before_l_s: Reals
    """Shape (changes, 48): the usual day before."""
    covariance: Reals
    """Shape (changes, 48, 48): of the change, from the scatter of days and slow drift, (L/s)2."""
    steady: Reals
    """Scatter of days after over that of days before, standard deviations; NaN if unknown."""

    def of(self, rows: npt.NDArray[np.int64]) -> Shifts:
        """These rows, in this order."""
        return Shifts(
            self.known[rows],
            self.change_l_s[rows],
            self.before_l_s[rows],
            self.covariance[rows],
            self.steady[rows],
        )


def shifts(
    hours: Hours,
    cells: Sequence[str],
    days: Sequence[tuple[npt.NDArray[np.int64], npt.NDArray[np.int64]]],
    *,
    scale_l_s: Reals,
    weekend: npt.NDArray[np.bool_],
    left_out: npt.NDArray[np.bool_],
) -> Shifts:
    """Change of the mean day of each of `cells` between two sets of days.

    Parameters: `days` positions of the days before and after, one pair a cell; `scale_l_s` size
    of each change; `weekend` and `left_out` (holidays), shape (nights,), by position. Saturdays and
    Sundays are told from other days. Means are of values limited to 3.5 deviations (median
    absolute deviation) around the middle; errors come from the day-to-day scatter, made larger
    where neighbouring days resemble each other, and from how the mean day drifts week by week.
    """
    count = len(cells)
    before, after = _gathered(hours, cells, days, left_out)
    is_weekend = _gathered_flags(weekend, days)
    usual, usual_count, scatter, drift = _group(before, is_weekend[0])
    new, new_count, scatter_after, _ = _group(after, is_weekend[1])
    known = np.isfinite(before).any(axis=2).sum(axis=1) >= FEWEST_DAYS
    known &= np.isfinite(after).any(axis=(1, 2))
    change = new - usual
    fine = np.isfinite(change)
    change = np.where(fine, change, 0.0)
    filled = _filled(usual)
    covariance = np.zeros((count, HOURS, HOURS))
    for part in range(2):
        own = slice(24 * part, 24 * part + 24)
        times = 1 / np.maximum(usual_count[:, part], 1) + 1 / np.maximum(new_count[:, part], 1)
        covariance[:, own, own] = scatter * times[:, None, None]
    covariance += (drift**2)[:, None, None] * filled[:, :, None] * filled[:, None, :]
    diagonal = np.einsum("nii->ni", covariance)
    diagonal += (_OWN_DRIFT * filled) ** 2 + (1e-3 * scale_l_s[:, None]) ** 2
    diagonal += np.where(fine, 0.0, UNKNOWN * scale_l_s[:, None] ** 2)
    spread = np.sqrt(np.einsum("nii->n", scatter) / 24)
    with np.errstate(divide="ignore", invalid="ignore"):
        steady = np.sqrt(np.einsum("nii->n", scatter_after) / 24) / spread
    return Shifts(known, change, filled, covariance, steady)


def _gathered(
    hours: Hours,
    cells: Sequence[str],
    days: Sequence[tuple[npt.NDArray[np.int64], npt.NDArray[np.int64]]],
    left_out: npt.NDArray[np.bool_],
) -> tuple[Reals, Reals]:
    found = []
    for side, most in ((0, BEFORE_DAYS), (1, AFTER_DAYS)):
        values = np.full((len(cells), most, 24), np.nan)
        for i, (cell, pair) in enumerate(zip(cells, days, strict=True)):
            row = hours.row.get(cell)
            if row is not None:
                wanted = pair[side][-most:]
                values[i, : len(wanted)] = hours.flow_l_s[row, wanted]
                values[i, : len(wanted)][left_out[wanted]] = np.nan
        found.append(values)
    return found[0], found[1]


def _gathered_flags(
    flags: npt.NDArray[np.bool_],
    days: Sequence[tuple[npt.NDArray[np.int64], npt.NDArray[np.int64]]],
) -> tuple[npt.NDArray[np.bool_], npt.NDArray[np.bool_]]:
    found = []
    for side, most in ((0, BEFORE_DAYS), (1, AFTER_DAYS)):
        values = np.zeros((len(days), most), dtype=bool)
        for i, pair in enumerate(days):
            wanted = pair[side][-most:]
            values[i, : len(wanted)] = flags[wanted]
        found.append(values)
    return found[0], found[1]


def _group(values: Reals, weekend: npt.NDArray[np.bool_]) -> tuple[Reals, Reals, Reals, Reals]:
    """Mean day (n, 48), days (n, 2), covariance of a day's hours (n, 24, 24), drift (n,)."""
    means, counts = [], []
    rest = np.zeros_like(values)
    for part in (False, True):
        own = np.where((weekend == part)[:, :, None], values, np.nan)
        middle, spread = _middle(own)
        reach = _CLIP * np.maximum(spread, 1e-9)[:, None]
        tamed = np.clip(own, middle[:, None] - reach, middle[:, None] + reach)
        number = np.isfinite(tamed).sum(axis=1)
        mean = np.where(number > 0, np.nansum(tamed, axis=1) / np.maximum(number, 1), np.nan)
        means.append(mean)
        counts.append(number.max(axis=1))
        rest += np.nan_to_num(tamed - mean[:, None])
    number = np.isfinite(values).any(axis=2).sum(axis=1)
    scatter = np.einsum("ndh,ndk->nhk", rest, rest) / np.maximum(number - 2, 1)[:, None, None]
    own_only = np.einsum("nii->ni", scatter).copy()
    scatter *= _KEPT
    np.einsum("nii->ni", scatter)[:] = own_only
    known = np.asarray(np.isfinite(values).any(axis=2))
    scatter *= _alike(rest.mean(axis=2), known)[:, None, None]
    mean_day = np.concatenate(means, axis=1)
    return mean_day, np.stack(counts, axis=1), scatter, _drift(rest, _filled(mean_day))


def _middle(values: Reals) -> tuple[Reals, Reals]:
    """Median over days and median absolute deviation times 1.48, NaN left out; (n, 24) each."""
    middle = _median(values)
    return middle, _TO_SIGMA * _median(np.abs(values - middle[:, None]))


def _median(values: Reals) -> Reals:
    ordered = np.sort(values, axis=1)
    number = np.isfinite(values).sum(axis=1)
    low = np.maximum(number - 1, 0) // 2
    pair = [np.take_along_axis(ordered, k[:, None], axis=1)[:, 0] for k in (low, number // 2)]
    pair[1] = np.where(number % 2 == 1, pair[0], pair[1])
    median: Reals = np.where(number > 0, (pair[0] + pair[1]) / 2, np.nan)
    return median


def _alike(rest: Reals, known: npt.NDArray[np.bool_]) -> Reals:
    """By how much the variance of a mean grows as neighbouring days resemble each other."""
    both = known[:, 1:] & known[:, :-1]
    power = (rest**2).sum(axis=1)
    product = (rest[:, 1:] * rest[:, :-1] * both).sum(axis=1)
    r = np.clip(np.where(power > 0, product / np.maximum(power, 1e-12), 0.0), 0.0, 0.6)
    factor: Reals = (1 + r) / (1 - r)
    return factor


def _drift(rest: Reals, usual: Reals) -> Reals:
    """Share by which whole weeks differ from the mean day: its slow drift."""
    shape = (usual[:, :24] + usual[:, 24:]) / 2
    power = np.maximum((shape**2).sum(axis=1), 1e-12)
    share = np.einsum("ndh,nh->nd", rest, shape) / power[:, None]
    weeks = rest.shape[1] // _WEEK
    known = np.abs(rest).max(axis=2)[:, : weeks * _WEEK].reshape(-1, weeks, _WEEK) > 0
    number = known.sum(axis=2)
    by_week = share[:, : weeks * _WEEK].reshape(-1, weeks, _WEEK).sum(axis=2)
    by_week = np.where(number > 2, by_week / np.maximum(number, 1), np.nan)
    enough = np.isfinite(by_week).sum(axis=1) >= 2
    spread = np.sqrt(np.nanmean(np.where(enough[:, None], by_week, 0.0) ** 2, axis=1))
    drift: Reals = np.hypot(_LEAST_DRIFT, spread)
    return drift


def _filled(usual: Reals) -> Reals:
    """The usual day, hours that are not known as those of the other kind of day, else the mean."""
    other = np.concatenate([usual[:, 24:], usual[:, :24]], axis=1)
    filled = np.where(np.isfinite(usual), usual, other)
    number = np.isfinite(filled).sum(axis=1)
    mean = np.nansum(filled, axis=1) / np.maximum(number, 1)
    return np.where(np.isfinite(filled), filled, mean[:, None])
