"""What in a device's record cannot be: spikes, stuck values, registers that step back.

Every limit here is drawn from the record itself, so that a building and a trunk main are judged
alike. The figures are common practice, no source.
"""

from __future__ import annotations

import math
from typing import Any

import numpy as np
from scipy.ndimage import median_filter

Floats = np.ndarray[Any, np.dtype[np.float64]]
Flags = np.ndarray[Any, np.dtype[np.bool_]]

WINDOW = 25
_FEW = 12
_ISOLATED = 2
"""A spike lasts this many readings at most; what lasts longer is taken for real."""
ABOVE_USUAL = 4.0
ASIDE_SHARE, ASIDE_LEAST = 0.005, 2
_ROBUST_SIGMAS = 8.0
_MAD_TO_SIGMA = 1.4826
STUCK_H = 3.0
_COARSE = 20.0
"""Below this many steps of its resolution, a meter may well show one value for hours."""
_BY_CHANCE = 0.05
_LOOK_AHEAD = 50


def usual_steps(steps: Floats) -> Floats:
    """The usual step around each of a record's steps; a logger may be set anew half-way."""
    if len(steps) == 0:
        return steps
    if len(steps) < WINDOW:
        return np.full(len(steps), np.median(steps))
    return np.asarray(median_filter(steps, size=WINDOW, mode="nearest"), dtype=float)


def step_h_of(length: Floats) -> float:
    """The usual interval, hours; NaN of a single reading."""
    # A whole second is as fine as clocks of loggers are; the rest is rounding.
    return round(float(np.median(length)) * 3600) / 3600 if len(length) else math.nan


def resolution(values: Floats) -> float:
    """The smallest step a device can show, in its own unit; NaN if it cannot be told.

    >>> resolution(np.array([0.25, 0.5, 1.75, 2.0, 2.5, 3.5, 9.0, 0.75]))
    0.25
    """
    unique = np.unique(values[np.isfinite(values)])
    if len(unique) < 2:
        return math.nan
    for decimals in range(7):
        scaled = unique * 10.0**decimals
        whole = np.round(scaled)
        if np.abs(whole).max() > 2**52:
            break
        if np.abs(scaled - whole).max() < 1e-9 * max(1.0, np.abs(scaled).max()):
            steps = np.diff(whole.astype(np.int64))
            common = int(np.gcd.reduce(steps)) if len(unique) >= 8 else 1
            return round(common / 10.0**decimals, 9)
    return float(np.diff(unique).min())


def spikes(values: Floats) -> Flags:
    """Lone values far beyond anything the record holds otherwise.

    Far is more than four times both the largest value that lasted three readings and the largest
    left when the highest 0.5 % of those not zero (two at least) are set aside, and eight robust
    standard deviations off the local median. More than two in a row are no spike.
    """
    flags = np.zeros(len(values), dtype=bool)
    if len(values) < _FEW:
        return flags
    size = np.abs(values)
    drawn = np.sort(size[size > 0])
    aside = int(ASIDE_SHARE * len(drawn)) + ASIDE_LEAST
    usual = drawn[-1 - aside] if len(drawn) > aside else 0.0
    lasted = np.minimum(np.minimum(size[:-2], size[1:-1]), size[2:]).max()
    limit = ABOVE_USUAL * max(usual, lasted)
    if limit <= 0:
        return flags
    far = size > limit
    if not far.any():
        return flags
    off = np.abs(values - _local_median(values))
    spread = _MAD_TO_SIGMA * _local_median(off)
    far &= off > _ROBUST_SIGMAS * spread
    for first, last in _runs(far):
        flags[first:last] = last - first <= _ISOLATED
    return flags


def jumps(values: Floats, *, least_m: float) -> Flags:
    """Lone values off the local median by more than `least_m` and eight robust standard deviations.

    For pressures and levels, which have no zero to measure sizes from.
    """
    flags = np.zeros(len(values), dtype=bool)
    if len(values) < _FEW:
        return flags
    off = np.abs(values - _local_median(values))
    if not (off > least_m).any():
        return flags
    far = off > np.maximum(_ROBUST_SIGMAS * _MAD_TO_SIGMA * _local_median(off), least_m)
    for first, last in _runs(far):
        flags[first:last] = last - first <= _ISOLATED
    return flags


def stuck(values: Floats, hours: Floats, *, step: float, least_h: float = STUCK_H) -> Flags:
    """Exactly the same value, not zero, for `least_h` or more, unless chance explains it.

    `hours` is the length of each interval and `step` the resolution in the values' unit (NaN if
    unknown). Values of few steps may repeat; so may any, as often as the record's other pairs of
    neighbours are equal.
    """
    flags = np.zeros(len(values), dtype=bool)
    if len(values) < 2:
        return flags
    same = np.concatenate([[False], np.diff(values) == 0.0])
    starts = np.flatnonzero(~same)
    ends = np.append(starts[1:], len(values))
    total = np.concatenate([[0.0], np.cumsum(hours)])
    lasting = total[ends] - total[starts]
    runs = (ends - starts >= 2) & (lasting >= least_h - 1e-6) & (values[starts] != 0.0)
    if not math.isnan(step):
        runs &= np.abs(values[starts]) > _COARSE * step
    if not runs.any():
        return flags
    inside = np.zeros(len(values), dtype=bool)
    for first, last in zip(starts[runs], ends[runs], strict=True):
        inside[first:last] = True
    others = ~inside & (values != 0.0)
    others[0] = False
    pairs = int(others.sum())
    alike = max((int((same & others).sum()) + 0.5) / (pairs + 1), 1e-3) if pairs > 50 else 1e-3
    for first, last in zip(starts[runs], ends[runs], strict=True):
        flags[first:last] = len(values) * alike ** (last - first - 1) < _BY_CHANCE
    return flags


def usable_register(hours: Floats, values: Floats, *, rollover: float) -> Flags:
    """Which register readings stand; false for ones that the next readings contradict.

    A reading (or a run of up to fifty) below the one before, after which the register goes on
    from where it was, was misread; so was one above, after which it goes on from before that.
    """
    keep = np.ones(len(values), dtype=bool)
    likely = _likely_rate(hours, values)
    for i in (int(fall) + 1 for fall in np.flatnonzero(np.diff(values) < 0)):
        before = _kept_before(keep, i)
        if not keep[i] or before < 0 or values[i] >= values[before]:
            continue
        earlier = _kept_before(keep, before)
        after = values[i + 1] if i + 1 < len(values) else math.nan
        if earlier >= 0 and values[i] >= values[earlier] and not after >= values[before]:
            risen = (values[before] - values[earlier]) / (hours[before] - hours[earlier])
            if risen > likely:
                keep[before] = False
            continue
        if not math.isnan(rolled(values[before], values[i], rollover=rollover)):
            continue
        rate = likely
        if math.isinf(rate) and earlier >= 0 and values[before] > values[earlier]:
            # Of a register read a few times a year, the rise before is all there is to go by.
            risen = (values[before] - values[earlier]) / (hours[before] - hours[earlier])
            rate = ABOVE_USUAL * risen
        resumes = _resumes(hours, values, before, i, rate)
        keep[i:resumes] = False
    return keep


def rolled(before: float, after: float, *, rollover: float) -> float:
    """Volume passed if the register started again from zero between two readings, else NaN.

    Where `rollover` is not known it is taken for the next power of ten, from 1000 up, and then
    only if the register stood in its last tenth and stands in its first.
    """
    known = not math.isnan(rollover)
    top = rollover if known else 10.0 ** max(3, math.ceil(math.log10(max(before, 1.0) + 1e-9)))
    near = 0.2 if known else 0.1
    if after >= 0 and (1 - near) * top <= before <= top and after <= near * top:
        return after + top - before
    return math.nan


def is_reset(before: float, after: float, usual: float) -> bool:
    """Whether a fall of a register is a new or reset meter, rather than a reading in error."""
    return after < 0.5 * before or before - after > 100 * usual > 0


def _likely_rate(hours: Floats, values: Floats) -> float:
    """Four times the fastest rise, setting aside one for each fall: misreading makes both."""
    steps, length = np.diff(values), np.diff(hours)
    rates = np.sort(steps[steps > 0] / length[steps > 0])
    aside = int((steps < 0).sum())
    return ABOVE_USUAL * float(rates[-1 - aside]) if len(rates) >= _FEW + aside else math.inf


def _kept_before(keep: Flags, i: int) -> int:
    i -= 1
    while i >= 0 and not keep[i]:
        i -= 1
    return i


def _resumes(hours: Floats, values: Floats, before: int, i: int, likely: float) -> int:
    """Where the register goes on from `before`, `i` itself if the fall stays."""
    for j in range(i + 1, min(i + 1 + _LOOK_AHEAD, len(values))):
        if values[j] < values[before]:
            continue
        onward = (values[j] - values[before]) / (hours[j] - hours[before])
        back = (values[j] - values[j - 1]) / (hours[j] - hours[j - 1])
        # Coming up at an everyday rate it would be a new meter that has passed the old reading.
        lone = j == i + 1 and values[i] >= 0.1 * values[before]
        return j if onward <= likely and (back > likely or lone) else i
    return i


def _local_median(values: Floats) -> Floats:
    return np.asarray(median_filter(values, size=WINDOW, mode="nearest"), dtype=float)


def _runs(flags: Flags) -> list[tuple[int, int]]:
    edges = np.flatnonzero(np.diff(np.concatenate([[0], flags.astype(np.int8), [0]])))
    return [(int(a), int(b)) for a, b in zip(edges[::2], edges[1::2], strict=True)]
