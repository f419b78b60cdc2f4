"""A register's readings as volumes over intervals."""

from __future__ import annotations

import math
from typing import Any

import numpy as np

from district.intake.agreement import borne_out, rate_days, rate_volume_m3
from district.intake.clean import is_reset, resolution, rolled, spikes, usual_steps
from district.intake.devices import Device
from district.intake.drift import Walk
from district.intake.entries import (
    GAP,
    GAP_STEPS,
    NEGATIVE,
    OK,
    RESET,
    SPIKE,
    Entries,
    Flow,
    beyond_tallies,
    each_of,
    flow_in,
)
from district.intake.kind_of import Moves
from district.intake.notes import contradicted, fallen, new_registers
from district.intake.spans import HOUR_US, Span, begins

Array = np.ndarray[Any, Any]


def register(
    device: Device,
    time_us: Array,
    value: Array,
    rate: Array,
    keep: Array,
    own: Span,
    moves: Moves,
    walk: Walk | None,
) -> Flow:
    """Readings of a register, in the meter's unit, as the intervals that end in a span.

    `rate` stands beside each (NaN where none does), `keep` says which stand; `moves` and `walk`
    are of all of them in the span.
    """
    here = own.of(time_us)
    smallest = device.resolution_m3
    if math.isnan(smallest):
        smallest = resolution(value[here]) * device.scale
    finest = resolution(rate[here]) * device.rate_scale
    dropped = ~keep & here
    tallies = contradicted(device, time_us, value, dropped)
    first = begins(device, time_us, value)[keep]
    time_us, value, rate = time_us[keep], value[keep], rate[keep]
    hours = time_us / HOUR_US
    length = np.diff(time_us) / HOUR_US
    volume = np.diff(value)
    usual = usual_steps(length)
    quality = np.where(length > GAP_STEPS * usual, GAP, OK).astype(np.int8)
    changed = first[1:]
    quality[changed] = RESET
    by_rate, variance = rate_volume_m3(hours, rate * device.rate_scale)
    falls = np.flatnonzero((volume < 0) & ~changed)
    if len(falls):
        risen = volume[volume > 0]
        typical = float(np.median(risen)) if len(risen) else 0.0
        for i in falls:
            before, after = float(value[i]), float(value[i + 1])
            turned = rolled(before, after, rollover=device.rollover)
            if not math.isnan(turned):
                volume[i] = turned
            elif device.both_ways and not is_reset(before, after, typical):
                continue
            else:
                quality[i] = RESET if is_reset(before, after, typical) else NEGATIVE
    fell = (quality == RESET) & ~changed
    volume = volume * device.scale
    sound = quality <= GAP
    lone = spikes(np.where(sound, volume / length, 0.0)) if len(length) else sound
    lone &= sound & ~borne_out(volume, by_rate)
    # One that runs both ways may come back from a jump at once: that is no new register.
    quality[lone] = SPIKE if device.both_ways else RESET
    mine = own.of(time_us[1:])
    tallies += fallen(device, time_us, value, fell & mine, "fallen")
    tallies += fallen(device, time_us, value, (quality == NEGATIVE) & mine, "below")
    jumped = lone & (quality == RESET)
    notes = new_registers(device, time_us, value, changed & mine, jumped & mine)
    tallies += beyond_tallies(device, volume, length, quality, smallest, mine)
    volume = np.where(quality > GAP, np.nan, volume)
    days = None
    if np.isfinite(by_rate[mine]).any():
        days = rate_days(
            device.device_id,
            time_us[:-1][mine],
            volume[mine],
            by_rate[mine],
            variance[mine],
            (np.nan_to_num(finest) / 2.0 * length)[mine],
            timezone=device.timezone,
        )
    entries = Entries(
        time_us[1:], time_us[:-1], time_us[1:], volume, quality, length, each_of(length, usual)
    )
    return flow_in(
        entries,
        own,
        misread=int(dropped.sum()),
        resolution_m3=smallest,
        notes=tuple(notes),
        tallies=tuple(tallies),
        moves=moves,
        walk=walk,
        days=days,
    )
