"""Marks of all that a part of the devices' records follows from."""

from __future__ import annotations

import hashlib
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
import pandas as pd

from district import intake, store

_ROWS_A_THIRD = 2_000_000
"""More readings than this in a third are kept in 4 or 16 groups of devices, so that the rows in
memory at once stay few."""
Array = np.ndarray[Any, Any]
Devices = Mapping[str, intake.Device]
Span = tuple[int, int]


@dataclass(frozen=True, eq=False)
class Marks:
    """What keys are made of."""

    groups: int
    """How many groups of devices there are."""
    general: str
    """What all parts follow from."""
    of_bin: dict[tuple[int, int], str]
    """Group and bin -> a mark of the raw rows there of devices cleaned by thirds, and of these."""
    seldom: dict[int, str]
    """Group -> a mark of all raw rows of devices read seldom, and of these."""
    changes: dict[int, list[tuple[int, int, str]]]
    """Group -> when meters were changed by the works: start, end, which meter."""


def groups_for(presence: pd.DataFrame) -> int:
    """How many groups of devices are kept apart, by the fullest third of table PRESENCE."""
    if presence.empty:
        return 1
    by_third = presence["rows_count"].groupby(presence["bin"] // 2).sum()
    most = int(by_third.max())
    return next((n for n in (1, 4) if most <= n * _ROWS_A_THIRD), store.GROUPS)


def group_of_each(ids: Iterable[str], groups: int) -> Array:
    """The group of each device."""
    return np.array([store.group_of(i) % groups for i in ids], dtype=np.int64)


def marks_of(lanes: intake.Lanes, devices: Devices, kinds: Sequence[str]) -> Marks:
    """The marks of all parts; `kinds` says how the files are read."""
    presence = lanes.presence
    groups = groups_for(presence)
    general = f"{store.method()}\n" + "\n".join(dict.fromkeys(kinds))
    names = [str(i) for i in presence["device_id"].cat.categories] if len(presence) else []
    group = group_of_each(names, groups)
    changes: dict[int, list[tuple[int, int, str]]] = {}
    for name, of in zip(names, group, strict=True):
        for start, end in devices[name].changes:
            changes.setdefault(int(of), []).append((start, end, f"{name} {start} {end}"))
    if presence.empty:
        return Marks(groups, general, {}, {}, changes)
    codes = presence["device_id"].cat.codes.to_numpy()
    bins = presence["bin"].to_numpy().astype(np.int64)
    mixed = _mixed(_of_devices(names, devices)[codes], bins, presence["mark"].to_numpy())
    by_third, seldom = ~lanes.seldom & ~lanes.stray, lanes.seldom
    where = group[codes] * _BINS + bins
    # A stray reading is told where it is left out.
    stray = {k: f"{m} strays" for k, m in _sums(where[lanes.stray], mixed[lanes.stray]).items()}
    of_bin = _sums(where[by_third], mixed[by_third])
    of_bin |= {k: of_bin.get(k, "") + m for k, m in stray.items()}
    return Marks(
        groups,
        general,
        {(k // _BINS, k % _BINS): m for k, m in of_bin.items()},
        _sums(group[codes][seldom], mixed[seldom]),
        changes,
    )


def third_key(marks: Marks, group: int, third: int, earlier: Iterable[int]) -> str:
    """Key of what a group of devices shows in a third; `earlier` as in `intake.thirds_needed`."""
    thirds = {third, *earlier}
    bins = {b for t in thirds for b in range(2 * (t - intake.LOADED), 2 * t + 2)}
    # The first days of the next third tell what the last readings are worth.
    bins.add(2 * (third + 1))
    since = intake.window_of(min(thirds) - intake.LOADED).from_us
    until = intake.window_of(third).to_us
    said = [marks.general, *map(str, sorted(thirds))]
    said += [f"{b} {marks.of_bin[group, b]}" for b in sorted(bins) if (group, b) in marks.of_bin]
    said += [c for start, end, c in marks.changes.get(group, []) if start < until and end >= since]
    return store.key_of(f"{group:02d}-{third}", said)


def seldom_key(marks: Marks, group: int) -> str:
    """Key of all that a group's devices show that are read seldom."""
    said = [marks.general, marks.seldom[group], *(c for _, _, c in marks.changes.get(group, []))]
    return store.key_of(f"{group:02d}-seldom", said)


_BINS = 60_000
_ODD = np.array([0x9E3779B97F4A7C15, 0xC2B2AE3D27D4EB4F], dtype=np.uint64)
"""Odd numbers with well spread bits: multiplying by one loses nothing."""


def _of_devices(names: Sequence[str], devices: Devices) -> Array:
    """Two 64-bit marks of each device: of all that its readings follow from but works in time."""
    digests = [
        hashlib.blake2b(f"{i} {_untimed(devices[i])!r}".encode(), digest_size=16).digest()
        for i in names
    ]
    return np.frombuffer(b"".join(digests), dtype="<u8").reshape(-1, 2)


def _untimed(device: intake.Device) -> intake.Device:
    """A device as it is without works in time; few have any, and a copy takes its time."""
    timed = device.empty or device.changes
    return replace(device, empty=(), changes=()) if timed else device


def _mixed(of_device: Array, bins: Array, mark: Array) -> Array:
    """Two 64-bit marks a row, each bit of them hanging on all that is given."""
    mixed = of_device ^ mark.astype(np.uint64)[:, None]
    for more in (bins.astype(np.uint64)[:, None], np.uint64(0)):
        mixed = (mixed ^ more) * _ODD
        mixed ^= mixed >> np.uint64(29)
        mixed *= _ODD[::-1]
        mixed ^= mixed >> np.uint64(32)
    return mixed


def _sums(where: Array, mixed: Array) -> dict[int, str]:
    """The sums of the marks of each place, whatever the order of rows."""
    if len(where) == 0:
        return {}
    order = np.argsort(where, kind="stable")
    places, starts = np.unique(where[order], return_index=True)
    sums = np.add.reduceat(mixed[order], starts, axis=0)
    return {int(p): f"{a:016x}{b:016x}" for p, (a, b) in zip(places, sums.tolist(), strict=True)}
