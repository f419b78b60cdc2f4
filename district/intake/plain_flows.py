"""Readings of many devices of which nothing is amiss, as `flows.flow` has them of each."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Any

import numpy as np
import pandas as pd

from district.intake.clean import resolution
from district.intake.devices import Device
from district.intake.drift import NEAR_SHARE, meant_s
from district.intake.entries import GAP, GAP_STEPS, OK
from district.intake.parse import ReadingFile
from district.intake.plain import Records, each_max, each_sum
from district.intake.rows import take
from district.intake.spans import HOUR_US
from district.intake.spells import source_of, spells_frame
from district.schema.inputs import RATE_KINDS
from district.schema.stored import QUALITIES

_MOST_WHOLE = 2**52
_DECIMALS = 7
_FEW_DISTINCT = 8
Array = np.ndarray[Any, Any]


def only_plain(records: Records) -> Records:
    """The plain ones of the records, as if there were no others."""
    at = np.flatnonzero(records.plain)
    here = records.plain[records.of_row]
    length = (records.end - records.start)[at]
    start = np.cumsum(length) - length
    return Records(
        take(records.rows, here),
        records.device[at],
        start,
        start + length,
        np.repeat(np.arange(len(at)), length),
        records.own[here],
        records.step_us[here],
        records.usual_us[at],
        records.plain[at],
    )


def plain_tables(
    records: Records, devices: Sequence[Device], files: Sequence[ReadingFile]
) -> tuple[pd.DataFrame, pd.DataFrame, pd.DataFrame]:
    """Tables INTERVALS, SAMPLES and SPELLS of records that are all plain; at least one.

    Ids are categories, those of `devices` in their order.
    """
    listed = [devices[i] for i in records.device]
    rows, of_row = records.rows, records.of_row
    kind = np.array([d.kind for d in listed], dtype=object)
    register, rate = kind == "register", np.isin(kind, RATE_KINDS)
    meter = register | rate | (kind == "pulse")
    scale = np.array([d.scale for d in listed])[of_row]
    first = records.step_us == 0
    length_h = records.step_us / HOUR_US
    usual_h = (records.usual_us / HOUR_US)[of_row]
    wide = ~first & (length_h > GAP_STEPS * usual_h)
    volume = np.where(register[of_row], np.diff(rows.value, prepend=rows.value[:1]), rows.value)
    volume = volume * scale
    span_us = np.where(register[of_row], records.step_us, records.usual_us[of_row])
    volume = np.where(rate[of_row], volume * (span_us / HOUR_US), volume)
    at_end = np.array([f.kind.stamp == "end" for f in files], dtype=bool)[rows.file]
    start_us = np.where(register[of_row] | at_end, rows.time_us - span_us, rows.time_us)
    quality = np.where(wide & register[of_row], GAP, OK)
    # A register's first reading ends no interval.
    entry = records.own & ~(first & register[of_row])
    flows, seen = entry & meter[of_row], entry & ~meter[of_row]
    ids = [d.device_id for d in devices]
    codes = records.device[of_row]
    intervals = pd.DataFrame(
        {
            "device_id": pd.Categorical.from_codes(codes[flows], ids),
            "start_utc": _times(start_us[flows]),
            "end_utc": _times((start_us + span_us)[flows]),
            "volume_m3": volume[flows],
            "quality": pd.Categorical.from_codes(quality[flows], QUALITIES),
        }
    )
    samples = pd.DataFrame(
        {
            "device_id": pd.Categorical.from_codes(codes[seen], ids),
            "time_utc": _times(rows.time_us[seen]),
            "value": (rows.value * scale)[seen],
            "quality": pd.Categorical.from_codes(quality[seen], QUALITIES),
        }
    )
    return intervals, samples, _spells(records, listed, files, entry, volume, span_us, quality)


def resolutions(values: Array, start: Array) -> Array:
    """`clean.resolution` of each stretch of values, which rise or stay in each.

    `start` is where each begins; none is empty.
    """
    found = np.full(len(start), math.nan)
    if not len(start):
        return found
    length = np.diff(np.append(start, len(values)))
    of = np.repeat(np.arange(len(start)), length)
    new = np.diff(values, prepend=values[:1]) != 0
    new[start] = True
    distinct = np.bincount(of, weights=new, minlength=len(start))
    size = np.maximum.reduceat(np.abs(values), start)
    left = distinct >= 2
    odd = np.zeros(len(start), dtype=bool)
    for decimals in range(_DECIMALS):
        if not left.any():
            break
        scaled = values * 10.0**decimals
        whole = np.round(scaled)
        most = np.maximum.reduceat(np.abs(whole), start)
        odd |= left & (most > _MOST_WHOLE)
        left &= ~odd
        off = np.maximum.reduceat(np.abs(scaled - whole), start)
        hit = left & (off < 1e-9 * np.maximum(1.0, size * 10.0**decimals))
        if hit.any():
            # Of those that are hit whole numbers are small enough.
            steps = np.diff(np.where(hit[of], whole, 0.0).astype(np.int64), prepend=0)
            steps[start] = 0
            common = np.gcd.reduceat(np.abs(steps), start)
            step = np.where(distinct >= _FEW_DISTINCT, common, 1) / 10.0**decimals
            found[hit] = np.round(step, 9)[hit]
            left &= ~hit
    for i in np.flatnonzero(left | odd):
        found[i] = resolution(values[start[i] : start[i] + length[i]])
    return found


def _spells(
    records: Records,
    devices: Sequence[Device],
    files: Sequence[ReadingFile],
    entry: Array,
    volume: Array,
    span_us: Array,
    quality: Array,
) -> pd.DataFrame:
    rows, own = records.rows, records.own
    mine = own & (records.step_us > 0)
    usual = records.usual_us[records.of_row]
    each = np.ones(len(usual), dtype=np.int64)
    step_h, usual_h = records.step_us[mine] / HOUR_US, usual[mine] / HOUR_US
    each[mine] = np.maximum(1, np.round(step_h / usual_h)).astype(np.int64)
    meter = np.array([d.word == "meter" for d in devices], dtype=bool)
    walks = mine & meter[records.of_row]
    meant = meant_s(records.usual_us / 1e6)
    off = records.step_us / 1e6 - meant[records.of_row]
    near = walks & (np.abs(off) <= NEAR_SHARE * meant[records.of_row])
    steps = np.diff(rows.value, prepend=rows.value[:1])
    steps = np.where(walks, steps, 0.0)
    broken = np.full(len(devices), math.nan)
    counts = np.array([d.counts for d in devices], dtype=bool)
    odd = np.flatnonzero(own & counts[records.of_row] & (rows.value != np.round(rows.value)))
    where, at = np.unique(records.of_row[odd], return_index=True)
    broken[where] = rows.value[odd[at]]
    at = np.flatnonzero(own)
    first, last = _ends(records.of_row[at], len(devices))
    file, pattern = _sources(records, files)
    tally = {
        "steps_count": mine,
        "readings_count": own,
        "expected_count": np.where(entry, each, 0),
        "missing_count": np.where(entry, each - 1, 0),
        "entries_count": entry,
        "gap_count": entry & (quality == GAP),
        "moved_count": steps != 0,
        "falls_count": steps < 0,
        "near_count": near,
        "off_s": np.where(near, off, 0.0),
        "later_count": near & (off > 0),
        "sooner_count": near & (off < 0),
        "known_m3": np.where(entry & meter[records.of_row], volume, 0.0),
        "known_h": np.where(entry & meter[records.of_row], span_us, 0) / HOUR_US,
    }
    plain = {name: each_sum(records, values) for name, values in tally.items()}
    return spells_frame(
        {
            "device_id": [d.device_id for d in devices],
            "kind": [d.kind for d in devices],
            "file": file,
            "pattern": pattern,
            "first_us": rows.time_us[at[first]],
            "last_us": rows.time_us[at[last]],
            "step_h": np.round(records.usual_us / HOUR_US * 3600) / 3600,
            "resolution_m3": _smallest(records, devices),
            "broken": broken,
            "meant_s": np.where(meter, meant, math.nan),
            **plain,
        }
    )


def _smallest(records: Records, devices: Sequence[Device]) -> Array:
    """The smallest volume each meter can show, by its readings in the span."""
    stated = np.array([d.resolution_m3 for d in devices])
    scale = np.array([d.scale for d in devices])
    kind = np.array([d.kind for d in devices], dtype=object)
    meter = np.array([d.word == "meter" for d in devices], dtype=bool)
    asked = meter & np.isnan(stated)
    at = np.flatnonzero(records.own)
    of_row, value = records.of_row[at], records.rows.value[at]
    first, last = _ends(of_row, len(devices))
    step = np.full(len(devices), math.nan)
    rising = np.flatnonzero(asked & (kind == "register"))
    if len(rising):
        here = np.isin(of_row, rising)
        length = (last - first + 1)[rising]
        step[rising] = resolutions(value[here], np.cumsum(length) - length)
    for i in np.flatnonzero(asked & (kind != "register")):
        step[i] = resolution(value[first[i] : last[i] + 1])
    smallest = step * scale
    rate = np.isin(kind, RATE_KINDS)
    smallest = np.where(
        rate, smallest * (np.round(records.usual_us / HOUR_US * 3600) / 3600), smallest
    )
    return np.where(asked, smallest, np.where(meter, stated, math.nan))


def _ends(of_row: Array, count: int) -> tuple[Array, Array]:
    """First and last position of each device among rows in their order; each has one."""
    return np.searchsorted(of_row, np.arange(count)), np.searchsorted(
        of_row, np.arange(count), side="right"
    ) - 1


def _sources(records: Records, files: Sequence[ReadingFile]) -> tuple[list[str], list[str]]:
    """File and pattern of each, as `spells.source_of` tells them."""
    patterns = sorted({f.kind.files for f in files})
    of_file = np.array([patterns.index(f.kind.files) for f in files])
    own, file = records.own, records.rows.file.astype(np.int64)
    pattern = of_file[file]
    lowest, highest = (
        (s * each_max(records, np.where(own, s * v, -(2.0**40)))).astype(np.int64)
        for s, v in ((-1, file), (1, file))
    )
    low, high = (
        (s * each_max(records, np.where(own, s * v, -(2.0**40)))).astype(np.int64)
        for s, v in ((-1, pattern), (1, pattern))
    )
    names, said = [], []
    for i in range(len(records.device)):
        if low[i] == high[i]:
            names.append(files[lowest[i]].name if lowest[i] == highest[i] else "")
            said.append(patterns[low[i]])
        else:
            here = slice(records.start[i], records.end[i])
            used = np.unique(file[here][own[here]])
            name, pattern_said = source_of(files, used)
            names.append(name)
            said.append(pattern_said)
    return names, said


def _times(time_us: Array) -> pd.DatetimeIndex:
    return pd.DatetimeIndex(time_us.astype("datetime64[us]"), tz="UTC")
