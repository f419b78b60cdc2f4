"""Changes of level as the whole record shows them: dated and sized by maximum likelihood."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from math import inf

import numpy as np

from district.detect.baseline import Reals
from district.detect.course import Alarm

MEMORY_NIGHTS = 60
"""Levels before and after a change are taken from so many nights, so that drift does not count."""
_UNSURE = 1.2
"""Limits of the start are those of noise so many times as large: on drawn zones, whose level
wanders, limits by the noise of nights alone hold 94 % of the starts, and these 96 %."""
_CLIP = 3.5  # nights further out than this are taken for so far out
_HELD = 0.95
_KEPT, _KEPT_FRESH, _FRESH_NIGHTS = 2.5, 1.0, 14
"""A change must stand so many standard errors out once its nights are all known: fewer than the
alarm asked for, so that what was told is not taken back lightly, and hardly any in the fortnight
after it. The alarm weighs each night by what was expected of it; these errors are those of means.
"""


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
    """Night on which the test told it, by the nights up to it."""
    size_l_s: float
    error_l_s: float
    """Standard error of the size."""


def refined(flow_l_s: Reals, *, sigma_l_s: float, alarms: Sequence[Alarm]) -> tuple[Change, ...]:
    """The alarms of one place as changes by all nights known now, oldest first.

    Parameters: `flow_l_s` shape (nights,), NaN where a night is missing; `sigma_l_s` the noise
    that the mean of several nights behaves by. Alarms that do not stand out any more are taken
    back. None where there is no noise.
    """
    if sigma_l_s <= 0 or not alarms:
        return ()
    known = np.append(np.cumsum(np.isfinite(flow_l_s)[::-1])[::-1], 0)

    def old(detected: int) -> bool:
        return bool(known[detected + 1] > _FRESH_NIGHTS)

    found = [Change(a.position, a.position, a.position, a.detected, 0.0, inf) for a in alarms]
    while found:
        found = _dated(flow_l_s, sigma_l_s, found)
        standing = [
            abs(c.size_l_s) / c.error_l_s / (_KEPT if old(c.detected) else _KEPT_FRESH)
            for c in found
        ]
        if not found or min(standing) >= 1:
            break
        weakest = found[int(np.argmin(standing))]
        found.remove(weakest)
    return tuple(found)


def date_step(
    x: Reals, begin: int, end: int, sigma_l_s: float, *, latest: int | None = None
) -> tuple[int, int, int] | None:
    """First night at the new level within `begin` .. `end` - 1, with 95 % limits.

    Maximum likelihood with normal noise; the limits enclose the likeliest nights that together
    hold 95 % of the likelihood, levels before and after integrated out. No night after `latest`
    is tried. None with fewer than two known nights.
    """
    nights = begin + np.flatnonzero(np.isfinite(x[begin:end]))
    count = len(nights)
    if count < 2:
        return None
    y = tame(x[nights], sigma_l_s)
    y = y - y.mean()
    before = np.arange(1, count)
    if latest is not None:
        before = before[: max(1, int((nights[1:] <= latest).sum()))]
    shared = before * (count - before) / count
    # Between-group sum of squares of splitting before night `before`: what the step explains.
    gain = np.cumsum(y)[before - 1] ** 2 / shared / (2 * sigma_l_s**2)
    best = int(np.argmax(gain))
    weight = np.exp((gain - gain[best]) / _UNSURE**2) / np.sqrt(shared)
    order = np.argsort(-weight, kind="stable")
    enough = 1 + int(np.searchsorted(np.cumsum(weight[order]), _HELD * weight.sum()))
    likely = np.append(order[:enough], best)
    low = int(nights[before[likely.min()] - 1]) + 1  # it may lie in the missing nights before
    return int(nights[before[best]]), low, int(nights[before[likely.max()]])


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


def _dated(x: Reals, sigma_l_s: float, found: list[Change]) -> list[Change]:
    done: list[Change] = []
    for j, change in enumerate(found):
        begin = max(done[-1].position if done else 0, change.position - MEMORY_NIGHTS)
        end = found[j + 1].position if j + 1 < len(found) else len(x)
        end = min(end, change.position + MEMORY_NIGHTS)
        step = date_step(x, begin, end, sigma_l_s, latest=change.detected)
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
                size_l_s=after - before,
                error_l_s=float(error),
            )
        )
    return done
