"""A device's readings as intervals of volume, or samples, with their quality."""

from __future__ import annotations

import math
from typing import Any

import numpy as np

from district.errors import Finding
from district.intake.clean import resolution, spikes, step_h_of, stuck, usual_steps
from district.intake.devices import Device
from district.intake.drift import Walk, walk_of
from district.intake.entries import (
    GAP,
    GAP_STEPS,
    IMPOSSIBLE,
    NEGATIVE,
    OK,
    SPIKE,
    STUCK,
    Entries,
    Flow,
    beyond_tallies,
    each_of,
    flow_in,
)
from district.intake.kind_of import Moves, moves_of
from district.intake.possible import backward
from district.intake.rates import rates
from district.intake.registers import register
from district.intake.sensed import levels, samples
from district.intake.spans import EVER, HOUR_US, Span, standing
from district.intake.tallies import Tally
from district.schema.inputs import RATE_KINDS

Array = np.ndarray[Any, Any]


def flow(
    device: Device,
    time_us: Array,
    value: Array,
    at_end: Array,
    rate: Array | None = None,
    *,
    own: Span = EVER,
    stands: Array | None = None,
) -> Flow:
    """Readings of one device, in strict order of time, as what its kind means by them.

    `value` is in the device's own unit; `at_end` says which end of its interval a count or rate
    is stamped with. `rate` is what stands beside each value, NaN where nothing does: the rate
    beside a register's total, or of travel times their sum over their product (`value` being
    their difference over it, as `transit.difference_and_sum` forms them). Readings outside `own`
    only help to judge those inside; which of them stand is found here unless `stands` says it.
    """
    here = own.of(time_us)
    keep = standing(device, time_us, value) if stands is None else stands
    if device.kind == "tank_level":
        return levels(device, time_us, value, keep, own)
    if device.word == "sensor":
        return samples(device, time_us, value, own)
    beside = np.full(len(value), np.nan) if rate is None else rate
    walk = walk_of(np.diff(time_us)[here[1:]])
    moves = moves_of(value, here, whole=device.counts)
    if device.kind == "register":
        return register(device, time_us, value, beside, keep, own, moves, walk)
    return _counted(device, time_us, value, at_end, beside, own, moves, walk)


def _counted(
    device: Device,
    time_us: Array,
    value: Array,
    at_end: Array,
    beside: Array,
    own: Span,
    moves: Moves,
    walk: Walk | None,
) -> Flow:
    """Pulses or rates: a reading covers one step, and one that is missing is simply absent."""
    length = np.diff(time_us) / HOUR_US
    usual = usual_steps(length)
    if len(length) == 0:
        nothing = np.empty(0)
        whole = nothing.astype(np.int64)
        return Flow(whole, whole, nothing, whole.astype(np.int8), 0, 0, math.nan, 0, moves=moves)
    covered = np.where(length > GAP_STEPS * usual, usual, length)
    back = np.concatenate([usual[:1], covered])
    ahead = np.concatenate([covered, usual[-1:]])
    step_us = np.round(np.where(at_end, back, ahead) * HOUR_US).astype(np.int64)
    start = np.where(at_end, time_us - step_us, time_us)
    end = start + step_us
    span = step_us / HOUR_US
    quality = np.full(len(value), OK, dtype=np.int8)
    smallest = device.resolution_m3
    mine = own.of(time_us)
    since_h = np.concatenate([[math.nan], length])
    notes: list[Finding] = []
    tallies: list[Tally] = []
    if device.kind in RATE_KINDS:
        flowing = rates(device, value, beside)
        notes += flowing.notes
        told = flowing.unsound & mine & np.isfinite(flowing.speed_m_s)
        if told.any() and device.path is not None:
            speed = flowing.speed_m_s[told]
            tallies.append(
                Tally("unsound", int(told.sum()), low=float(speed.min()), high=float(speed.max()))
            )
        rate, finest = flowing.rate_m3_h, flowing.step_m3_h
        volume = rate * span
        if not flowing.by_times.any():
            quality[stuck(rate, span, step=finest)] = STUCK
        quality[spikes(rate)] = SPIKE
        if not device.both_ways:
            quality[backward(rate, step=finest)] = NEGATIVE
        quality[flowing.unsound] = IMPOSSIBLE
        if math.isnan(smallest):
            if not flowing.by_times.any():
                finest = resolution(value[mine]) * device.scale
            own_h = since_h[mine]
            smallest = finest * step_h_of(own_h[~np.isnan(own_h)])
    else:
        volume = value * device.scale
        quality[spikes(value / span)] = SPIKE
        quality[value < 0] = NEGATIVE
        if math.isnan(smallest):
            smallest = resolution(value[mine]) * device.scale
    back_count = int(((quality == NEGATIVE) & mine).sum())
    tallies += [Tally("back", back_count)] if back_count else []
    tallies += beyond_tallies(device, volume, span, quality, smallest, mine)
    volume = np.where(quality > GAP, np.nan, volume)
    each = np.concatenate([[1], each_of(length, usual)])
    return flow_in(
        Entries(time_us, start, end, volume, quality, since_h, each),
        own,
        resolution_m3=smallest,
        notes=tuple(notes),
        tallies=tuple(tallies),
        moves=moves,
        walk=walk,
    )
