"""A device's readings as intervals of volume, or samples, with their quality."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from district.errors import Finding
from district.intake.agreement import borne_out, disagreeing, rate_volume_m3
from district.intake.changes import changed_at
from district.intake.clean import (
    counts,
    is_reset,
    jumps,
    resolution,
    rolled,
    spikes,
    step_h_of,
    stuck,
    usable_register,
    usual_steps,
)
from district.intake.devices import Device
from district.intake.drift import walking
from district.intake.kind_of import unlike_its_kind
from district.intake.levels import sound_levels
from district.intake.notes import contradicted, fallen, left_out, new_registers, ran_back
from district.intake.possible import MOST_SHARE, backward, beyond
from district.intake.premises import told_empty
from district.intake.rates import rates
from district.schema.inputs import RATE_KINDS
from district.schema.stored import QUALITIES
from district.words import brief, percent

OK, GAP, SPIKE, STUCK, RESET, NEGATIVE, IMPOSSIBLE = range(len(QUALITIES))
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
    notes: tuple[Finding, ...] = ()
    """What there is to say of it; `intake.notes.placed` fills in file and device."""


def flow(
    device: Device, time_us: Array, value: Array, at_end: Array, rate: Array | None = None
) -> Flow:
    """Readings of one device, in strict order of time, as what its kind means by them.

    `value` is in the device's own unit; `at_end` says which end of its interval a count or rate
    is stamped with. `rate` is what stands beside each value, NaN where nothing does: the rate
    beside a register's total, or of travel times their sum over their product (`value` being
    their difference over it, as `transit.difference_and_sum` forms them).
    """
    if device.kind == "tank_level":
        return _levels(device, time_us, value)
    if device.word == "sensor":
        return _samples(device, time_us, value)
    beside = np.full(len(value), np.nan) if rate is None else rate
    found = (
        _register(device, time_us, value, beside)
        if device.kind == "register"
        else _counted(device, time_us, value, at_end, beside)
    )
    notes = [
        *found.notes,
        *walking(time_us),
        *told_empty(
            found.start_us,
            found.end_us,
            found.value,
            device.empty,
            resolution_m3=found.resolution_m3,
            error_share=device.error_share,
            timezone=device.timezone,
        ),
    ]
    return replace(found, notes=tuple(notes))


def _register(device: Device, time_us: Array, value: Array, rate: Array) -> Flow:
    notes = unlike_its_kind(device, value)
    read_count, read = len(value), value
    begins = np.zeros(len(value), dtype=bool)
    begins[changed_at(time_us, value, device.changes)] = True
    falls = bool((np.diff(value) < 0).any())
    if falls and not device.both_ways:
        keep = np.concatenate(
            [
                usable_register(t / HOUR_US, v, rollover=device.rollover)
                for t, v in zip(
                    np.split(time_us, np.flatnonzero(begins)),
                    np.split(value, np.flatnonzero(begins)),
                    strict=True,
                )
            ]
        )
        notes += contradicted(device, time_us, value, keep)
        time_us, value, rate, begins = time_us[keep], value[keep], rate[keep], begins[keep]
    hours = time_us / HOUR_US
    length = np.diff(hours)
    volume = np.diff(value)
    usual = usual_steps(length)
    quality = np.where(length > _GAP * usual, GAP, OK).astype(np.int8)
    changed = begins[1:]
    quality[changed] = RESET
    by_rate, variance = rate_volume_m3(hours, rate * device.rate_scale)
    if falls:
        risen = volume[volume > 0]
        typical = float(np.median(risen)) if len(risen) else 0.0
        for i in np.flatnonzero((volume < 0) & ~changed):
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
    smallest = device.resolution_m3
    if math.isnan(smallest):
        smallest = resolution(read) * device.scale
    sound = quality <= GAP
    lone = spikes(np.where(sound, volume / length, 0.0)) if len(length) else sound
    lone &= sound & ~borne_out(volume, by_rate)
    # One that runs both ways may come back from a jump at once: that is no new register.
    quality[lone] = SPIKE if device.both_ways else RESET
    what = "at which a register fell, as after a change of meter"
    notes += fallen(device, time_us, value, fell, what)
    notes += fallen(device, time_us, value, quality == NEGATIVE, "below the one before")
    notes += new_registers(device, time_us, value, changed, lone & (quality == RESET))
    notes += _beyond(device, volume, length, quality, smallest)
    volume = np.where(quality > GAP, np.nan, volume)
    step = resolution(rate) * device.rate_scale
    notes += disagreeing(
        time_us[:-1],
        volume,
        by_rate,
        variance,
        np.nan_to_num(step) / 2.0 * length,
        resolution_m3=smallest,
        error_share=device.error_share,
        timezone=device.timezone,
    )
    expected, missing = counts(length, usual, misread=read_count - len(value))
    return Flow(
        time_us[:-1],
        time_us[1:],
        volume,
        quality,
        expected,
        missing,
        step_h_of(length),
        smallest,
        tuple(notes),
    )


def _beyond(
    device: Device, volume: Array, span: Array, quality: Array, smallest: float
) -> list[Finding]:
    """Flags in `quality` what cannot have passed, and tells it."""
    sound = quality <= GAP
    over = sound & beyond(volume, span, most_m3_h=device.most_m3_h, step_m3=smallest)
    count = int(over.sum())
    if not count:
        return []
    fastest = brief(float((np.abs(volume) / span)[over].max()))
    if count <= MOST_SHARE * sound.sum():
        quality[over] = IMPOSSIBLE
        return left_out(
            count,
            f"beyond what can pass, up to {fastest} m³/h",
            expected=f"at most {device.most_said}",
            mend="Check them against the meter",
            severity="warning",
        )
    if not device.most_column:
        # Told by the check of flows against pipes.
        return []
    return [
        Finding(
            "warning",
            "",
            got=f"{percent(count / int(sound.sum()), decimals=0)} of its readings beyond what can "
            f"pass, up to {fastest} m³/h",
            expected=f"at most {device.most_said}",
            remedy=f"Check reading_unit, litres_per_pulse and {device.most_column} of the meter; "
            "the readings are used as they are",
        )
    ]


def _counted(device: Device, time_us: Array, value: Array, at_end: Array, beside: Array) -> Flow:
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
    step = step_h_of(length)
    quality = np.full(len(value), OK, dtype=np.int8)
    smallest = device.resolution_m3
    notes = unlike_its_kind(device, value)
    if device.kind in RATE_KINDS:
        flowing = rates(device, value, beside)
        notes += flowing.notes
        value, finest = flowing.rate_m3_h, flowing.step_m3_h
        volume = value * span
        if not flowing.by_times.any():
            quality[stuck(value, span, step=finest)] = STUCK
        quality[spikes(value)] = SPIKE
        if not device.both_ways:
            quality[backward(value, step=finest)] = NEGATIVE
        quality[flowing.unsound] = IMPOSSIBLE
        if math.isnan(smallest):
            smallest = finest * step
    else:
        volume = value * device.scale
        quality[spikes(value / span)] = SPIKE
        quality[value < 0] = NEGATIVE
        if math.isnan(smallest):
            smallest = resolution(value) * device.scale
    notes += ran_back(device, int((quality == NEGATIVE).sum()))
    notes += _beyond(device, volume, span, quality, smallest)
    volume = np.where(quality > GAP, np.nan, volume)
    expected, missing = counts(length, usual)
    return Flow(start, end, volume, quality, expected + 1, missing, step, smallest, tuple(notes))


def _samples(device: Device, time_us: Array, value: Array) -> Flow:
    length = np.diff(time_us / HOUR_US)
    usual = usual_steps(length)
    value = value * device.scale
    quality = np.full(len(value), OK, dtype=np.int8)
    if device.kind == "pressure":
        low, high = _LIKELY_PRESSURE_M
        quality[jumps(value, least_m=_JUMP_M) | (value < low) | (value > high)] = SPIKE
        value = np.where(quality == SPIKE, np.nan, value)
    expected, missing = counts(length, usual)
    return Flow(time_us, time_us, value, quality, expected + 1, missing, step_h_of(length))


def _levels(device: Device, time_us: Array, value: Array) -> Flow:
    """A tank's level is a register of what it holds, which runs both ways."""
    level_m, read_count = value * device.scale, len(value)
    keep, notes = sound_levels(level_m, time_us / HOUR_US)
    time_us, level_m = time_us[keep], level_m[keep]
    length = np.diff(time_us / HOUR_US)
    usual = usual_steps(length)
    quality = np.where(length > _GAP * usual, GAP, OK).astype(np.int8)
    volume, smallest = np.diff(level_m), resolution(level_m)
    expected, missing = counts(length, usual, misread=read_count - len(level_m))
    return Flow(
        time_us[:-1],
        time_us[1:],
        volume * device.surface_m2,
        quality,
        expected,
        missing,
        step_h_of(length),
        smallest * device.surface_m2,
        tuple(notes),
    )
