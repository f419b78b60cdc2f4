"""Which of a device's readings a part of its record is about, and which stand.

A part is cleaned from a window fixed by the calendar alone: its third of a month, two thirds
before, and the first days of the next. What is kept so follows from the readings, not from the
days on which they came.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np

from district.intake.changes import changed_at
from district.intake.clean import usable_register
from district.intake.devices import Device
from district.intake.levels import sound_levels
from district.schema.thirds import DAY_US, HEAD_DAYS, bins_of, third_start_us

HOUR_US = 3_600_000_000
BEFORE = 2
"""Thirds before its own that a part is judged by."""
Array = np.ndarray[Any, Any]


@dataclass(frozen=True)
class Span:
    """From an instant to before another, µs since 1970, UTC."""

    from_us: int
    to_us: int

    def of(self, time_us: Array) -> Array:
        """Which times lie in it."""
        return np.asarray((time_us >= self.from_us) & (time_us < self.to_us))


EVER = Span(-(2**62), 2**62)


def own_span(third: int) -> Span:
    """A third itself."""
    return Span(third_start_us(third), third_start_us(third + 1))


def window_of(third: int) -> Span:
    """What a third is judged by."""
    ahead_us = HEAD_DAYS * DAY_US
    return Span(third_start_us(third - BEFORE), third_start_us(third + 1) + ahead_us)


def begins(device: Device, time_us: Array, value: Array) -> Array:
    """Which readings are the first of a new meter, by the works."""
    first = np.zeros(len(time_us), dtype=bool)
    if device.changes:
        first[changed_at(time_us, value, device.changes)] = True
    return first


def standing(device: Device, time_us: Array, value: Array) -> Array:
    """Which readings of a register or level stand, by the others of the same window.

    False for register readings that the next contradict, and for levels that cannot be.
    """
    if device.kind == "tank_level":
        jumped, still = sound_levels(value * device.scale, time_us / HOUR_US)
        return np.asarray(~(jumped | still))
    if device.kind != "register" or device.both_ways or not (np.diff(value) < 0).any():
        return np.ones(len(value), dtype=bool)
    at = np.flatnonzero(begins(device, time_us, value))
    return np.concatenate(
        [
            usable_register(t / HOUR_US, v, rollover=device.rollover)
            for t, v in zip(np.split(time_us, at), np.split(value, at), strict=True)
        ]
    )


def standing_by_third(device: Device, time_us: Array, value: Array, third: int) -> Array:
    """Which readings a third is cleaned from: those of its window that stand.

    Of the readings before the third the last is the one that the third before keeps, so that its
    intervals begin where those end. `time_us` may begin before the window, as far as is needed
    to tell which one that is.
    """
    kept = _standing_within(device, time_us, value, window_of(third))
    own = own_span(third)
    before = np.flatnonzero(time_us < own.from_us)
    if len(before) == 0:
        return kept
    last = _last_kept(device, time_us, value, before)
    kept[before[before > last]] = False
    if last >= 0:
        kept[last] = True
    return kept


def shown_in(device: Device, time_us: Array, value: Array, third: int) -> tuple[Array, Array]:
    """Which readings a third is judged by, and which of all stand; see `standing_by_third`.

    Those of its window, and the last before the third though it be older.
    """
    stands = standing_by_third(device, time_us, value, third)
    shown = window_of(third).of(time_us)
    before = np.flatnonzero(stands & (time_us < own_span(third).from_us))
    if len(before):
        shown[before[-1]] = True
    return shown, stands


def _last_kept(device: Device, time_us: Array, value: Array, before: Array) -> int:
    thirds = bins_of(time_us[before]) // 2
    for third in np.unique(thirds)[::-1]:
        kept = _standing_within(device, time_us, value, window_of(int(third)))
        there = before[(thirds == third) & kept[before]]
        if len(there):
            return int(there[-1])
    return -1


def _standing_within(device: Device, time_us: Array, value: Array, window: Span) -> Array:
    kept = np.zeros(len(time_us), dtype=bool)
    inside = window.of(time_us)
    kept[inside] = standing(device, time_us[inside], value[inside])
    return kept
