"""What sensors show: samples, and a tank's level as what it takes in and gives."""

from __future__ import annotations

import math
from typing import Any

import numpy as np

from district.intake.clean import jumps, resolution, usual_steps
from district.intake.devices import Device
from district.intake.entries import (
    GAP,
    GAP_STEPS,
    OK,
    SPIKE,
    Entries,
    Flow,
    each_of,
    flow_in,
)
from district.intake.levels import sound_levels
from district.intake.spans import HOUR_US, Span
from district.intake.tallies import Tally

JUMP_M = 20.0
LIKELY_PRESSURE_M = (-10.0, 300.0)
Array = np.ndarray[Any, Any]


def samples(device: Device, time_us: Array, value: Array, own: Span) -> Flow:
    """Samples of a sensor, those in a span."""
    length = np.diff(time_us) / HOUR_US
    value = value * device.scale
    quality = np.full(len(value), OK, dtype=np.int8)
    if device.kind == "pressure":
        low, high = LIKELY_PRESSURE_M
        quality[jumps(value, least_m=JUMP_M) | (value < low) | (value > high)] = SPIKE
        value = np.where(quality == SPIKE, np.nan, value)
    each = np.concatenate([[1], each_of(length, usual_steps(length))])
    since_h = np.concatenate([[math.nan], length])
    return flow_in(Entries(time_us, time_us, time_us, value, quality, since_h, each), own)


def levels(device: Device, time_us: Array, value: Array, keep: Array, own: Span) -> Flow:
    """A tank's level is a register of what it holds, which runs both ways."""
    level_m = value * device.scale
    dropped = ~keep & own.of(time_us)
    tallies = []
    if dropped.any():
        jumped, _ = sound_levels(level_m, time_us / HOUR_US)
        for what, some in (("jumped", dropped & jumped), ("still", dropped & ~jumped)):
            tallies += [Tally(what, int(some.sum()))] if some.any() else []
    time_us, level_m = time_us[keep], level_m[keep]
    length = np.diff(time_us) / HOUR_US
    usual = usual_steps(length)
    quality = np.where(length > GAP_STEPS * usual, GAP, OK).astype(np.int8)
    smallest = resolution(level_m[own.of(time_us)])
    entries = Entries(
        time_us[1:],
        time_us[:-1],
        time_us[1:],
        np.diff(level_m) * device.surface_m2,
        quality,
        length,
        each_of(length, usual),
    )
    return flow_in(
        entries,
        own,
        misread=int(dropped.sum()),
        resolution_m3=smallest * device.surface_m2,
        tallies=tuple(tallies),
    )
