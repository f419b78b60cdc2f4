"""Clocks of loggers that run fast or slow."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from typing import Any
from zoneinfo import ZoneInfo

import numpy as np

from district.errors import Finding

DAY_S = 86_400.0
_LOST_US = 400 * 86_400_000_000
_MEANT_S = np.array(
    [30, 60, 120, 180, 300, 360, 600, 720, 900, 1200, 1800, 3600, 7200, 10800, 21600, 43200, 86400]
)
NEAR_SHARE = 0.02
_LEAST_STEPS = 50
_MOST_OTHERS = 0.1
_WALK_S = 60.0
_AGAINST = 0.01
Array = np.ndarray[Any, Any]


def corrected(time_us: Array, *, gain_s_d: float, from_us: int | Array) -> Array:
    """True times (µs) of stamps by a clock that was right at `from_us` and gains since.

    A clock that gains `gain_s_d` seconds a day shows 86 400 + gain seconds after a day.

    >>> day = 86_400_000_000
    >>> corrected(np.array([0, day + 4_000_000]), gain_s_d=4.0, from_us=0).tolist() == [0, day]
    True
    """
    shown = time_us - from_us
    return np.asarray(time_us - np.round(shown * (gain_s_d / (DAY_S + gain_s_d))).astype(np.int64))


def first_of_each(device: Array, time_us: Array) -> Array:
    """For each reading of a file the earliest time of its device.

    Earlier than a gap of 400 days only a logger without a clock writes: of such times, where they
    are the fewer, none counts as first.
    """
    first = np.empty(len(time_us), dtype=np.int64)
    for one in np.unique(device):
        own = device == one
        times = np.sort(time_us[own])
        late = np.flatnonzero(np.diff(times) > _LOST_US) + 1
        late = late[late <= len(times) // 2]
        first[own] = times[late[-1] if len(late) else 0]
    return first


@dataclass(frozen=True)
class Walk:
    """How the steps between a device's readings lie about a round one."""

    meant_s: float
    """The round step nearest to the usual one."""
    steps_count: int
    near_count: int
    off_s: float
    """By how much the steps near it are longer, all together."""
    later_count: int
    sooner_count: int
    """Of those, how many are longer, and how many shorter."""


def walk_of(step_us: Array) -> Walk | None:
    """The walk of a part of a record by its steps; None without any."""
    if len(step_us) == 0:
        return None
    steps = step_us / 1e6
    meant = meant_s(np.array([np.median(steps)]))[0]
    off = steps - meant
    off = off[np.abs(off) <= NEAR_SHARE * meant]
    later, sooner = int((off > 0).sum()), int((off < 0).sum())
    return Walk(float(meant), len(steps), len(off), float(off.sum()), later, sooner)


def meant_s(usual_s: Array) -> Array:
    """The round step nearest to each usual one, in proportion."""
    off = np.abs(np.log(_MEANT_S[:, None] / np.maximum(usual_s, 1e-3)))
    return np.asarray(_MEANT_S[np.argmin(off, axis=0)].astype(float))


def walking(walk: Walk | None) -> list[Finding]:
    """A note where the steps of a whole record betray a clock that drifts; its file comes later.

    Steps near one round length make up nine tenths of it, and they are off it to one side only,
    by a minute or more in all.
    """
    if walk is None or walk.steps_count < _LEAST_STEPS:
        return []
    against = min(walk.later_count, walk.sooner_count)
    if walk.off_s:
        against = walk.sooner_count if walk.off_s > 0 else walk.later_count
    if (
        walk.near_count < (1.0 - _MOST_OTHERS) * walk.steps_count
        or abs(walk.off_s) < _WALK_S
        or against > _AGAINST * walk.near_count
    ):
        return []
    mean_s = walk.off_s / walk.near_count
    step_s, gain_s_d = walk.meant_s + mean_s, mean_s / walk.meant_s * DAY_S
    slow = "waits longer" if gain_s_d > 0 else "waits less long"
    return [
        Finding(
            "note",
            "",
            got=f"a reading every {step_s:.5g} s, so that the seconds walk",
            expected=f"one every {walk.meant_s:g} s",
            remedy=f"If its clock is {'fast' if gain_s_d > 0 else 'slow'}, set clock_gain_s_d = "
            f"{gain_s_d:.3g} under [[readings]]; if it only {slow}, nothing need be done",
        )
    ]


def clock_set_us(moment: datetime | None, zone: ZoneInfo) -> int | None:
    """When a clock was set (local time of `zone` unless it says its own offset), µs UTC."""
    if moment is None:
        return None
    aware = moment if moment.tzinfo else moment.replace(tzinfo=zone)
    return round(aware.timestamp() * 1e6)
