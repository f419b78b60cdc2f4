"""Records in which nothing is amiss, all devices at once; the others go the careful way.

A device's third is plain if it can be seen from the third, the days just before and after alone
that `flows.flow` would flag nothing in it. Then what that gives is found here for all such
devices together, without a pass for each. Where it cannot be seen the device is not plain: that
costs time, and changes nothing.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from district.intake.clean import ABOVE_USUAL, ASIDE_LEAST, ASIDE_SHARE, STUCK_H, WINDOW
from district.intake.devices import Device
from district.intake.entries import GAP_STEPS
from district.intake.rows import Rows
from district.intake.sensed import JUMP_M, LIKELY_PRESSURE_M
from district.intake.spans import HOUR_US, Span
from district.schema.inputs import RATE_KINDS
from district.schema.thirds import DAY_US

DAYS_BEFORE = 3
"""Days before a third from which it is seen whether it is plain."""
_CONTEXT = 51
"""Readings in these days from which on they tell all that earlier ones could: a misread register
is told by fifty readings after it, a level by a dozen."""
_FEW = WINDOW // 2
"""So many odd steps leave the median of a window of steps at the usual one."""
Array = np.ndarray[Any, Any]


@dataclass(frozen=True, eq=False)
class Records:
    """Rows in order of device and time, and where each device's lie; what is plain of them.

    Arrays by device have an entry for each of `device`.
    """

    rows: Rows
    device: Array
    """Positions among the devices."""
    start: Array
    end: Array
    of_row: Array
    """Position in `device` of each row."""
    own: Array
    """Rows in the span itself."""
    step_us: Array
    """Since the reading before; 0 of a device's first."""
    usual_us: Array
    """By device, the step of its last readings."""
    plain: Array
    """By device."""


def near_span(own: Span) -> Span:
    """What is read to see whether a third is plain."""
    return Span(own.from_us - DAYS_BEFORE * DAY_US, own.to_us)


def records_of(
    rows: Rows, devices: Sequence[Device], own: Span, *, new: Array, around: Span, counts: Array
) -> Records:
    """The records in `rows`, which hold all readings near the span `own`, and which are plain.

    By position among `devices`: `new` says that there is no reading before the span, `counts` is
    the most readings there are `around` it, in all that the span is judged by.
    """
    device, start = np.unique(rows.device, return_index=True)
    end = np.append(start[1:], len(rows.device))
    of_row = np.repeat(np.arange(len(device)), end - start)
    step_us = np.diff(rows.time_us, prepend=rows.time_us[:1])
    step_us[start] = 0
    here = own.of(rows.time_us)
    usual_us = step_us[end - 1] if len(device) else np.zeros(0, dtype=np.int64)
    bare = Records(rows, device, start, end, of_row, here, step_us, usual_us, np.zeros(0, bool))
    listed = [devices[i] for i in device]
    plain = _regular(bare, own, new[device])
    known = np.array([np.isfinite(d.scale) and d.kind != "tank_level" for d in listed], dtype=bool)
    plain &= known & ~_changed(listed, around)
    plain &= ~each_any(bare, np.isfinite(rows.rate) & here)
    plain &= _sound(bare, listed, counts[device])
    return Records(rows, device, start, end, of_row, here, step_us, usual_us, plain)


def each_any(records: Records, flags: Array) -> Array:
    """By device, whether any of its rows has the flag."""
    if not len(records.device):
        return np.zeros(0, dtype=bool)
    return np.asarray(np.logical_or.reduceat(flags, records.start))


def each_sum(records: Records, values: Array) -> Array:
    """By device, the sum over its rows."""
    if not len(records.device):
        return np.zeros(0)
    if values.dtype.kind == "f":
        # One value after the other, or the last digits would be others.
        return np.bincount(records.of_row, weights=values, minlength=len(records.device))
    # Whole numbers and flags are counted in a third of the time: each device's stand together.
    return np.add.reduceat(values, records.start, dtype=np.int64).astype(float)


def each_max(records: Records, values: Array) -> Array:
    """By device, the largest of its rows."""
    if not len(records.device):
        return np.zeros(0)
    return np.asarray(np.maximum.reduceat(values, records.start))


def _regular(records: Records, own: Span, new: Array) -> Array:
    """Whether the usual step is the same all along, and enough is known of what came before."""
    start, end = records.start, records.end
    count = end - start
    if not len(count):
        return np.zeros(0, dtype=bool)
    steps = np.ones(len(records.of_row), dtype=bool)
    steps[start] = False
    odd = steps & (records.step_us != records.usual_us[records.of_row])
    odd_count, mine_odd = each_sum(records, odd), each_sum(records, odd & records.own)
    mine = each_sum(records, steps & records.own)
    before = each_sum(records, records.rows.time_us < own.from_us)
    second = np.minimum(start + 1, end - 1)
    known = (before >= _CONTEXT) | (new & (before == 0) & ~odd[second])
    few = (odd_count <= _FEW) & (2 * odd_count < count - 1) & (2 * mine_odd < mine)
    return np.asarray(known & few & (count > 1) & (records.usual_us > 0))


def _changed(devices: Sequence[Device], around: Span) -> Array:
    """Devices changed, by the works, in what they are judged by."""
    return np.array(
        [
            any(start < around.to_us and end >= around.from_us for start, end in d.changes)
            for d in devices
        ],
        dtype=bool,
    )


def _sound(records: Records, devices: Sequence[Device], counts: Array) -> Array:
    """Devices of which no value can be flagged, by the rules of their kind."""
    kind = np.array([d.kind for d in devices], dtype=object)
    register = kind == "register"
    rate = np.isin(kind, RATE_KINDS)
    counted = rate | (kind == "pulse")
    both_ways = np.array([d.both_ways for d in devices], dtype=bool)
    scale = np.array([d.scale for d in devices])
    most = np.array([d.most_m3_h for d in devices])
    value, of_row = records.rows.value, records.of_row
    inner = records.step_us > 0
    step = np.where(inner, np.diff(value, prepend=value[:1]), 0.0)
    # Where all readings are of one instant there is no usual step; such are not plain.
    usual_h = np.where(records.usual_us > 0, records.usual_us / HOUR_US, np.nan)[of_row]
    hours = np.where(inner, records.step_us / HOUR_US, usual_h)
    pulse = (kind == "pulse")[of_row]
    size = np.abs(np.select([register[of_row], pulse], [step / hours, value / usual_h], value))
    sound = ~(register & each_any(records, step < 0))
    # So that each count or rate stands for the usual step: those before a gap do too.
    sound &= ~(counted & each_any(records, (hours != usual_h) & (hours <= GAP_STEPS * usual_h)))
    sound &= ~(counted & ~both_ways & each_any(records, value < 0))
    sound &= ~(kind == "pulse") | ~each_any(records, value < 0)
    flow_m3_h = size * scale[of_row]
    sound &= ~((register | counted) & each_any(records, flow_m3_h > most[of_row]))
    sound &= ~(rate & _may_stick(records, value))
    meter = register | counted
    sound &= ~meter | _no_spike(records, size, np.where(register[of_row], inner, True), counts)
    low, high = LIKELY_PRESSURE_M
    metres = value * scale[of_row]
    top, bottom = each_max(records, metres), -each_max(records, -metres)
    level = (top - bottom <= JUMP_M) & (bottom >= low) & (top <= high)
    return np.asarray(sound & ((kind != "pressure") | level))


def _may_stick(records: Records, value: Array) -> Array:
    """Devices with one value, not zero, for as long as one that is stuck."""
    new = np.ones(len(value), dtype=bool)
    new[1:] = np.diff(value) != 0
    new[records.start] = True
    starts = np.flatnonzero(new)
    count = np.diff(np.append(starts, len(value)))
    hours = count * records.usual_us[records.of_row[starts]] / HOUR_US
    long = (count > 1) & (hours >= STUCK_H - 1e-3) & (value[starts] != 0)
    found = np.zeros(len(records.device), dtype=bool)
    found[records.of_row[starts[long]]] = True
    return found


def _no_spike(records: Records, size: Array, there: Array, counts: Array) -> Array:
    """Devices of which no value is far beyond what lasted or what is usual.

    As `clean.spikes` judges them by all readings around: more of these only make larger what
    lasted, and what is usual is at least what more values than it sets aside reach.
    """
    of_row = records.of_row
    size = np.where(there, size, 0.0)
    lasted = np.zeros(len(size))
    lasted[2:] = np.minimum(np.minimum(size[:-2], size[1:-1]), size[2:])
    # Three of one device: neither its first two readings, nor what is no interval.
    lasted[np.minimum(records.start + 1, len(size) - 1)] = 0.0
    lasted[records.start] = 0.0
    most = each_max(records, np.where(records.own, size, 0.0))
    far = most > ABOVE_USUAL * each_max(records, lasted)
    reach = (size > 0) & (ABOVE_USUAL * size >= most[of_row])
    aside = (ASIDE_SHARE * counts).astype(np.int64) + ASIDE_LEAST
    return np.asarray(~far | (each_sum(records, reach) >= aside + 1))
