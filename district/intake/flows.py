"""A device's readings as intervals of volume, or samples, with their quality."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any

import numpy as np

from district.intake.clean import (
    is_reset,
    jumps,
    resolution,
    rolled,
    spikes,
    stuck,
    usable_register,
    usual_steps,
)
from district.intake.devices import Device
from district.schema.inputs import RATE_KINDS
from district.schema.stored import QUALITIES

OK, GAP, SPIKE, STUCK, RESET, NEGATIVE = range(len(QUALITIES))
"""Codes of the qualities, in the order of the schema."""
HOUR_US = 3_600_000_000
_GAP = 1.5
"""Longer than this many usual steps, an interval is a gap."""
_JUMP_M = 20.0
_LIKELY_PRESSURE_M = (-10.0, 300.0)
Array = np.ndarray[Any, Any]


@dataclass(frozen=True, eq=False)
class Flow:
    """Intervals (or instants: start is end) of one device, in order of time."""

    start_us: Array
    end_us: Array
    value: Array
    """m³, m of water, or 0/1; NaN where unusable."""
    quality: Array
    expected_count: int
    """Intervals there would be without any missing."""
    missing_count: int
    step_h: float
    resolution_m3: float = math.nan


def flow(device: Device, time_us: Array, value: Array, at_end: Array) -> Flow:
    """Readings of one device, in strict order of time, as what its kind means by them.

    `value` is in the device's own unit; `at_end` says which end of its interval a count or rate
    is stamped with.
    """
    if device.word == "sensor":
        return _samples(device, time_us, value)
    if device.kind == "register":
        return _register(device, time_us, value)
    return _counted(device, time_us, value, at_end)


def _register(device: Device, time_us: Array, value: Array) -> Flow:
    hours = time_us / HOUR_US
    read_count, read = len(value), value
    falls = bool((np.diff(value) < 0).any())
    if falls and not device.both_ways:
        keep = usable_register(hours, value, rollover=device.rollover)
        time_us, value, hours = time_us[keep], value[keep], hours[keep]
    length = np.diff(hours)
    volume = np.diff(value)
    usual = usual_steps(length)
    quality = np.where(length > _GAP * usual, GAP, OK).astype(np.int8)
    if falls:
        risen = volume[volume > 0]
        typical = float(np.median(risen)) if len(risen) else 0.0
        for i in np.flatnonzero(volume < 0):
            before, after = float(value[i]), float(value[i + 1])
            turned = rolled(before, after, rollover=device.rollover)
            if not math.isnan(turned):
                volume[i] = turned
            elif device.both_ways and not is_reset(before, after, typical):
                continue
            else:
                quality[i] = RESET if is_reset(before, after, typical) else NEGATIVE
    volume = volume * device.scale
    sound = quality <= GAP
    lone = spikes(np.where(sound, volume / length, 0.0)) if len(length) else sound
    quality[lone & sound] = SPIKE
    volume[quality > GAP] = np.nan
    expected, missing = _counts(length, usual, misread=read_count - len(value))
    smallest = device.resolution_m3
    if math.isnan(smallest):
        smallest = resolution(read) * device.scale
    return Flow(
        time_us[:-1], time_us[1:], volume, quality, expected, missing, _step(length), smallest
    )


def _counted(device: Device, time_us: Array, value: Array, at_end: Array) -> Flow:
    """Pulses or rates: a reading covers one step, and one that is missing is simply absent."""
    hours = time_us / HOUR_US
    length = np.diff(hours)
    usual = usual_steps(length)
    if len(length) == 0:
        nothing = np.empty(0)
        whole = nothing.astype(np.int64)
        return Flow(whole, whole, nothing, whole.astype(np.int8), 0, 0, math.nan)
    covered = np.where(length > _GAP * usual, usual, length)
    back = np.concatenate([usual[:1], covered])
    ahead = np.concatenate([covered, usual[-1:]])
    step_us = np.round(np.where(at_end, back, ahead) * HOUR_US).astype(np.int64)
    start = np.where(at_end, time_us - step_us, time_us)
    end = start + step_us
    span = step_us / HOUR_US
    step = _step(length)
    quality = np.full(len(value), OK, dtype=np.int8)
    smallest = device.resolution_m3
    if device.kind in RATE_KINDS:
        volume = value * device.scale * span
        finest = resolution(value)
        quality[stuck(value, span, step=finest)] = STUCK
        quality[spikes(value)] = SPIKE
        if math.isnan(smallest):
            smallest = finest * device.scale * step
    else:
        volume = value * device.scale
        quality[spikes(value / span)] = SPIKE
        quality[value < 0] = NEGATIVE
        if math.isnan(smallest):
            smallest = resolution(value) * device.scale
    volume = np.where(quality > GAP, np.nan, volume)
    expected, missing = _counts(length, usual)
    return Flow(start, end, volume, quality, expected + 1, missing, step, smallest)


def _samples(device: Device, time_us: Array, value: Array) -> Flow:
    length = np.diff(time_us / HOUR_US)
    usual = usual_steps(length)
    value = value * device.scale
    quality = np.full(len(value), OK, dtype=np.int8)
    if device.kind == "pressure":
        low, high = _LIKELY_PRESSURE_M
        quality[jumps(value, least_m=_JUMP_M) | (value < low) | (value > high)] = SPIKE
        value = np.where(quality == SPIKE, np.nan, value)
    expected, missing = _counts(length, usual)
    return Flow(time_us, time_us, value, quality, expected + 1, missing, _step(length))


def _counts(length: Array, usual: Array, misread: int = 0) -> tuple[int, int]:
    """Intervals expected, and how many of them have no reading of their own."""
    if len(length) == 0:
        return 0, 0
    each = np.maximum(1, np.round(length / usual)).astype(np.int64)
    return int(each.sum()), max(int((each - 1).sum()) - misread, 0)


def _step(length: Array) -> float:
    # A whole second is as fine as clocks of loggers are; the rest is rounding.
    return round(float(np.median(length)) * 3600) / 3600 if len(length) else math.nan
