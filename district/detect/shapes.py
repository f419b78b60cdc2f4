"""How well each cause explains a change by hour of day: a leak, a wrong meter, use, a boundary."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import partial

import numpy as np
import numpy.typing as npt

from district.detect.baseline import Reals
from district.detect.profile import HOURS, Shifts

SHAPES = ("leak", "meter_fault", "stuck", "use", "boundary", "unknown")
"""Shapes of a change over the day; `stuck`: the meter shows the same at all hours."""
MOST_APART = 20.0
"""Log-likelihoods are not trusted to tell more: days are no draws from a normal distribution."""
_SOFTER = 0.7  # and hours hang together more than few days show
# What a leak loses at the hour of greatest flow, where pressure is lowest, and its scatter; for
# water moved between zones the scatter alone, as it follows the difference of two pressures:
# common practice, no source.
_LOSES, _LOSES_SCATTER = 0.08, 0.08
_NO_SWING = 0.3  # chance that pressure hardly swings over the day
_MOVES_SCATTER = 0.3
_MOVES_BY_HOUR = 0.1  # chance that the difference of pressures swings more than that
_LENGTH_H = 2.5  # use at one hour tells of use so many hours away ...
_UNLIKE = 0.1  # water that moved may differ by this share of the rise beside errors
_DAY_MOST = 5.0
_EDGED_H = 5.0  # ... and so many where it begins and ends within the hour
_STILL, _STILL_SCATTER = 0.1, 0.1  # scatter of days left by a meter that stands still
_LOWEST_HOURS, _BY_CHANCE = 3, 1.5
# Use as it is every day, on working days, on Saturdays and Sundays, at all hours alike; and how
# large by day against the night.
_ALIKE = 0.995
_USES = (
    (0.3, 1.0, 1.0, _ALIKE),
    (0.2, 1.0, 1.0, 0.9),
    (0.2, 1.0, 0.1, 0.0),
    (0.1, 0.1, 1.0, 0.0),
)
_USE_SCALES = (1.0, 3.0)
_ALL_HOURS = 0.2


@dataclass(frozen=True, eq=False)
class Fits:
    """How well each shape fits each change."""

    log: Reals
    """Shape (changes, SHAPES): log-likelihood given the change at night, the best of a row 0;
    all 0 where hours are not known."""
    meter_share: Reals
    """Shape (changes,): share of the flow that would be read too much, were it a meter's fault."""
    daily_l_s: Reals
    """Shape (changes,): mean change over all hours."""
    peak_hour: npt.NDArray[np.int64]
    """Shape (changes,): hour of the largest change, 24 and above on a Saturday or Sunday."""


def fits(
    shifts: Shifts,
    scale_l_s: Reals,
    *,
    night: npt.NDArray[np.bool_],
    meters: Sequence[Sequence[Reals]],
) -> Fits:
    """Log-likelihoods of SHAPES for each change, the rise at night being given.

    Parameters: `scale_l_s` size of each change, shape (changes,); `night` the hours of the night
    window, shape (24,); `meters` for each change the flow by hour, shape (48,), of each meter that
    may read wrong (the zone's own net inflow where there is none).

    A change is the sum of a shape and of what days differ by (`Shifts.covariance`). A leak adds
    the same at all hours, somewhat less where pressure is low; a wrong meter adds a share of its
    flow; use is any smooth curve over the day, alike or unlike on working days and at weekends;
    what nothing explains is any curve, smooth or not. Every shape is a normal distribution of
    curves, and so is the sum.
    """
    count = len(scale_l_s)
    if not count:
        none = np.zeros(0)
        return Fits(np.zeros((0, len(SHAPES))), none, none, none.astype(np.int64))
    at_night = _weights(night)
    size2 = (scale_l_s**2)[:, None, None]
    flow = shifts.before_l_s
    sag = _sag(flow)
    ones = np.ones((count, HOURS))
    given = partial(_log, shifts, at_night)
    level = _outer(ones) * size2
    sagging = _outer(1 - _LOSES * sag) * size2 + _outer(_LOSES_SCATTER * sag) * size2
    leak = np.logaddexp(np.log(1 - _NO_SWING) + given(sagging), np.log(_NO_SWING) + given(level))
    smooth = 0.5 * _smooth() + 0.5 * _edged()
    even = level + _outer(_MOVES_SCATTER * sag) * size2
    both = np.array([[1.0, _ALIKE], [_ALIKE, 1.0]])
    every_day = np.kron(both, smooth)[None] * size2
    moved = np.logaddexp(
        np.log(1 - _MOVES_BY_HOUR) + given(even),
        np.log(_MOVES_BY_HOUR) + given(every_day) - _below_nothing(shifts),
    )
    meter, share = _meter(given, scale_l_s, meters, at_night)
    stuck = _stuck(given, shifts.steady, scale_l_s, meters)
    use = [np.log(_ALL_HOURS) + given(level)]
    for weight, work, rest, joint in _USES:
        mixed = np.array([[work, joint], [joint, rest]])
        for times in _USE_SCALES:
            part = given(np.kron(mixed, smooth)[None] * size2 * times**2)
            use.append(np.log(weight / len(_USE_SCALES)) + part)
    used = np.logaddexp.reduce(use) - _below_nothing(shifts)
    any_curve = 2.0 * (np.kron(np.eye(2) * 0.7 + 0.3, smooth) + np.eye(HOURS))
    unknown = given(any_curve[None] * size2)
    log = np.stack([leak, meter, stuck, used, moved, unknown], axis=1)
    log = _SOFTER * (log - log.max(axis=1, keepdims=True))
    log = np.where(shifts.known[:, None], np.maximum(log, -MOST_APART), 0.0)
    peak = np.argmax(shifts.change_l_s, axis=1)
    return Fits(log, share, shifts.change_l_s.mean(axis=1), peak)


def moved_between(
    own: Shifts, other: Shifts, scale_l_s: Reals, *, night: npt.NDArray[np.bool_]
) -> Reals:
    """Log likelihood ratio, shape (changes,), that by day the other zone fell by what a zone rose,
    against that it did not; 0 where hours are not known.

    Nights are compared by `neighbours.opposites`; here the mean of all other hours. If water moved,
    both changes sum to nothing within errors and a tenth of the rise. If not, the other zone did
    nothing by day, or something of its own.
    """
    by_day = _weights(~night)
    rose, fell = own.change_l_s @ by_day, other.change_l_s @ by_day
    errors2 = [np.einsum("i,nij,j->n", by_day, s.covariance, by_day) for s in (own, other)]
    slack2 = (_UNLIKE * scale_l_s) ** 2
    moved = _normal_log(rose + fell, errors2[0] + errors2[1] + slack2)
    still = _normal_log(fell, errors2[1] + slack2)
    apart = _normal_log(fell, errors2[1] + (2 * scale_l_s) ** 2)
    ratio = np.clip(moved - np.logaddexp(still, apart) + np.log(2), -_DAY_MOST, _DAY_MOST)
    return np.where(own.known & other.known, ratio, 0.0)


def _normal_log(off_l_s: Reals, variance: Reals) -> Reals:
    log: Reals = -0.5 * off_l_s**2 / variance - 0.5 * np.log(variance)
    return log


def _weights(night: npt.NDArray[np.bool_]) -> Reals:
    weights = np.tile(np.where(night, 1.0, 0.0), 2)
    even: Reals = weights / weights.sum()
    return even


def _log(shifts: Shifts, at_night: Reals, curves: Reals, mean: Reals | None = None) -> Reals:
    """Log-likelihood, shape (changes,), of curves with this covariance, (changes, 48, 48), about a
    mean, given the rise at night."""
    total = shifts.covariance + curves
    off = shifts.change_l_s if mean is None else shifts.change_l_s - mean
    lower = np.linalg.cholesky(total)
    white = _forward(np.asarray(lower, dtype=float), off)
    whole = -0.5 * (white**2).sum(axis=1) - np.log(np.einsum("nii->ni", lower)).sum(axis=1)
    night = off @ at_night
    variance = np.einsum("i,nij,j->n", at_night, total, at_night)
    given: Reals = whole + 0.5 * night**2 / variance + 0.5 * np.log(variance)
    return given


def _forward(lower: Reals, off: Reals) -> Reals:
    """Solution of lower x = off, row by row over all changes at once."""
    found: Reals = np.zeros_like(off)
    for i in range(off.shape[1]):
        done = np.einsum("nk,nk->n", lower[:, i, :i], found[:, :i])
        found[:, i] = (off[:, i] - done) / lower[:, i, i]
    return found


def _meter(
    given: Callable[..., Reals],
    scale_l_s: Reals,
    meters: Sequence[Sequence[Reals]],
    at_night: Reals,
) -> tuple[Reals, Reals]:
    most = max(len(m) for m in meters)
    logs, shares = [], []
    for k in range(most):
        flow = np.array([m[min(k, len(m) - 1)] for m in meters])
        by_night = np.abs(flow @ at_night)
        share = scale_l_s / np.maximum(by_night, 1e-9)
        logs.append(given(_outer(flow * share[:, None])))
        shares.append(share)
    best = np.argmax(logs, axis=0)
    rows = np.arange(len(scale_l_s))
    return np.logaddexp.reduce(logs) - np.log(most), np.array(shares)[best, rows]


def _stuck(
    given: Callable[..., Reals],
    steady: Reals,
    scale_l_s: Reals,
    meters: Sequence[Sequence[Reals]],
) -> Reals:
    """A meter that shows one flow since: the change is that flow less the usual one, or, where
    water leaves through it, the other way round. Days no longer differ where it is the only one."""
    moves = np.maximum(np.nan_to_num(steady, posinf=0.0) - _STILL, 0.0) / _STILL_SCATTER
    most = max(len(m) for m in meters)
    level = _outer(np.ones((len(scale_l_s), HOURS))) * (scale_l_s**2)[:, None, None]
    logs: list[Reals] = []
    for k in range(most):
        flow = np.array([m[min(k, len(m) - 1)] for m in meters])
        into = given(level, mean=-flow)
        logs += [into, given(level, mean=flow)] if k else [into - np.minimum(0.5 * moves**2, 12.0)]
    told: Reals = np.logaddexp.reduce(logs) - np.log(len(logs))
    return told


def _below_nothing(shifts: Shifts) -> Reals:
    """How surely the flow is lower than before at some hours, as no use makes it: in the unit of
    log-likelihoods, from the three hours that are lowest against their error."""
    error = np.sqrt(np.einsum("nii->ni", shifts.covariance))
    lowest = np.sort(shifts.change_l_s / error, axis=1)[:, :_LOWEST_HOURS].mean(axis=1)
    told: Reals = 0.5 * np.maximum(-lowest - _BY_CHANCE, 0.0) ** 2
    return told


def _sag(flow: Reals) -> Reals:
    """How far the flow lies between its least (0) and its greatest (1): pressure falls with it."""
    low = flow.min(axis=1, keepdims=True)
    reach = flow.max(axis=1, keepdims=True) - low
    sag: Reals = (flow - low) / np.maximum(reach, 1e-9)
    return sag


def _outer(rows: Reals) -> Reals:
    return rows[:, :, None] * rows[:, None, :]


def _smooth() -> Reals:
    """Covariance of a smooth curve over the day, hour 23 next to hour 0; shape (24, 24)."""
    hour = 2 * np.pi * np.arange(24) / 24
    length = 2 * np.pi * _LENGTH_H / 24
    curve: Reals = np.exp((np.cos(hour[:, None] - hour[None]) - 1) / length**2)
    return curve


def _edged() -> Reals:
    """The same of a curve that begins and ends within the hour, as a shift does."""
    hour = np.arange(24)
    apart = np.abs(hour[:, None] - hour[None])
    curve: Reals = np.exp(-np.minimum(apart, 24 - apart) / _EDGED_H)
    return curve
