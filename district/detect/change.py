"""The change test: a two-sided cumulative sum with a stated rate of false alarms."""

from __future__ import annotations

from dataclasses import dataclass, replace
from math import exp, inf

import numpy as np
from scipy.optimize import brentq

from district.detect.baseline import Reals

ALLOWANCE = 0.5
"""Half the shift, in standard deviations, that is found soonest."""
MEMORY_NIGHTS = 120
"""The baseline looks back this far, so that slow drift is followed."""
FIRST_NIGHTS = 14
"""Nights that make the first baseline; a change within them is not seen."""
NIGHTS_YEAR = 365.25
_CLIP = 3.5  # nights further out than this pull the baseline no further
_LIKELY = 1.92  # half of the 95 % quantile of chi-square with one degree of freedom
_KEPT = 3.0  # a change must stand this many standard errors out once its nights are all known


@dataclass(frozen=True)
class Change:
    """One lasting change of level; nights are positions in the series."""

    position: int
    """First night at the new level, by maximum likelihood ..."""
    low: int
    """... at the earliest (95 %) ..."""
    high: int
    """... and at the latest."""
    detected: int
    size_l_s: float
    error_l_s: float
    """Standard error of the size."""


def run_length(sigmas_count: float) -> float:
    """Mean nights to a false alarm of a one-sided cumulative sum.

    `sigmas_count` is the decision limit h in standard deviations; the allowance k is `ALLOWANCE`.
    Siegmund's approximation (exp(2 k b) - 2 k b - 1) / (2 k^2), b = h + 1.166.
    Source: Siegmund 1985, Sequential Analysis, Springer (from memory).
    """
    b = 2 * ALLOWANCE * (sigmas_count + 1.166)
    return (exp(b) - b - 1) / (2 * ALLOWANCE**2)


def threshold(false_alarms_per_year: float) -> float:
    """Decision limit, in standard deviations, of the two-sided test (rises and falls together).

    The two sides share the rate, so each has twice the mean run length.
    """
    wanted = 2 * NIGHTS_YEAR / false_alarms_per_year
    if run_length(0.0) >= wanted:
        return 0.0
    return float(brentq(lambda h: run_length(h) - wanted, 0.0, 100.0))


def changes(
    flow_l_s: Reals, *, sigma_l_s: float, false_alarms_per_year: float
) -> tuple[Change, ...]:
    """Lasting changes of level of a nightly series, oldest first.

    Parameters: `flow_l_s` shape (nights,), NaN where a night is missing; `sigma_l_s` the noise of
    a night. Each night is compared with the mean of those before it since the last change; the
    division by sqrt(1 + 1/n) makes such scores independent and of unit variance (recursive
    residuals; Hawkins & Olwell 1998, Cumulative Sum Charts, from memory), so that the stated rate
    of false alarms holds with a baseline that is itself estimated. A single night, however high,
    gives no alarm: its score is limited below the threshold.
    """
    if sigma_l_s <= 0:
        return ()
    alarms = _alarms(flow_l_s, sigma_l_s, threshold(false_alarms_per_year))
    return _refined(flow_l_s, sigma_l_s, alarms)


def _alarms(x: Reals, sigma_l_s: float, limit: float) -> list[tuple[int, int]]:
    known = np.flatnonzero(np.isfinite(x))
    if len(known) <= FIRST_NIGHTS:
        return []
    cap = ALLOWANCE + 0.7 * limit if limit > 0 else inf
    first = x[known[:FIRST_NIGHTS]]
    # A median is as sure as the mean of 0.64 times as many nights.
    level, weight = float(np.median(first)), 0.64 * FIRST_NIGHTS
    begin, up, down = int(known[0]), 0.0, 0.0
    found: list[tuple[int, int]] = []
    for i in known[FIRST_NIGHTS:]:
        scale = sigma_l_s * np.sqrt(1 + 1 / weight)
        score = float(np.clip((x[i] - level) / scale, -cap, cap))
        up, down = max(0.0, up + score - ALLOWANCE), max(0.0, down - score - ALLOWANCE)
        if up > limit or down > limit:
            begin = max(begin, int(i) - MEMORY_NIGHTS)
            step = date_step(x, begin, int(i) + 1, sigma_l_s)
            if step is not None:
                found.append((step[0], int(i)))
                begin = step[0]
                after = x[begin : i + 1]
                level, weight = float(np.nanmedian(after)), float(np.isfinite(after).sum())
            up = down = 0.0
            continue
        level += float(np.clip(x[i] - level, -_CLIP * scale, _CLIP * scale)) / (weight + 1)
        weight = min(weight + 1, MEMORY_NIGHTS)
    return found


def date_step(x: Reals, begin: int, end: int, sigma_l_s: float) -> tuple[int, int, int] | None:
    """First night at the new level within `begin` .. `end` - 1, with 95 % limits.

    Maximum likelihood with normal noise; the limits enclose every night whose log-likelihood lies
    within 1.92 of the greatest. None with fewer than two known nights.
    """
    nights = begin + np.flatnonzero(np.isfinite(x[begin:end]))
    count = len(nights)
    if count < 2:
        return None
    y = tame(x[nights], sigma_l_s)
    y = y - y.mean()
    before = np.arange(1, count)
    # Between-group sum of squares of splitting before night `before`: what the step explains.
    total = np.cumsum(y)[:-1]
    gain = total**2 * count / (before * (count - before)) / (2 * sigma_l_s**2)
    best = int(np.argmax(gain))
    likely = np.flatnonzero(gain >= gain[best] - _LIKELY)
    low = int(nights[before[likely[0]] - 1]) + 1  # the change may lie in the missing nights before
    return int(nights[before[best]]), low, int(nights[before[likely[-1]]])


def tame(y: Reals, sigma_l_s: float) -> Reals:
    """Lone spikes limited: no night further than 3.5 sigma from the median of five around it."""
    padded = np.concatenate([y[:1], y[:1], y, y[-1:], y[-1:]])
    middle = np.median(np.lib.stride_tricks.sliding_window_view(padded, 5), axis=1)
    tamed: Reals = np.clip(y, middle - _CLIP * sigma_l_s, middle + _CLIP * sigma_l_s)
    return tamed


def level(x: Reals, begin: int, end: int, sigma_l_s: float) -> tuple[float, int]:
    """Mean of the known nights `begin` .. `end` - 1, spikes limited, and how many there are."""
    y = x[begin:end]
    y = y[np.isfinite(y)]
    if not len(y):
        return float("nan"), 0
    middle = float(np.median(y))
    return float(np.clip(y, middle - _CLIP * sigma_l_s, middle + _CLIP * sigma_l_s).mean()), len(y)


def _refined(x: Reals, sigma_l_s: float, alarms: list[tuple[int, int]]) -> tuple[Change, ...]:
    found = [Change(p, p, p, a, 0.0, inf) for p, a in alarms]
    for _ in range(len(alarms) + 2):
        found = _dated(x, sigma_l_s, found)
        weakest = min(found, key=lambda c: abs(c.size_l_s) / c.error_l_s, default=None)
        if weakest is None or abs(weakest.size_l_s) >= _KEPT * weakest.error_l_s:
            break
        found.remove(weakest)
    return tuple(_dated(x, sigma_l_s, found))


def _dated(x: Reals, sigma_l_s: float, found: list[Change]) -> list[Change]:
    done: list[Change] = []
    for j, change in enumerate(found):
        begin = max(done[-1].position if done else 0, change.position - MEMORY_NIGHTS)
        end = found[j + 1].position if j + 1 < len(found) else len(x)
        end = min(end, change.position + MEMORY_NIGHTS)
        step = date_step(x, begin, end, sigma_l_s)
        if step is None:
            continue
        position, low, high = step
        before, count_before = level(x, begin, position, sigma_l_s)
        after, count_after = level(x, position, end, sigma_l_s)
        error = sigma_l_s * np.sqrt(1 / count_before + 1 / count_after)
        done.append(
            replace(
                change,
                position=position,
                low=low,
                high=high,
                detected=max(change.detected, position),
                size_l_s=after - before,
                error_l_s=float(error),
            )
        )
    return done
