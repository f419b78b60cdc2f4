"""Alarms of sensors that read 0 or 1, spells that belong together taken as one."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Any
from zoneinfo import ZoneInfo

import pandas as pd

from district.detect.flapping import weak_spells

_SAME_ALARM = pd.Timedelta(days=2)
FRESH = pd.Timedelta(days=2)
"""An alarm that lasted so near to the latest data is taken for open; one that began so near to it
is fresh."""


@dataclass(frozen=True)
class Spell:
    """An alarm: spells of one sensor within two days, or all its chatter; local times."""

    sensor_id: str
    kind: str
    start: pd.Timestamp
    end: pd.Timestamp
    alarm_h: float
    onsets_count: int
    open: bool
    flapping: bool

    def first(self) -> pd.Timestamp:
        """Local date on which it began."""
        return self.start.normalize()

    def last(self) -> pd.Timestamp:
        """Local date of its last wet reading."""
        return self.end.normalize()


def spells(
    alarms: pd.DataFrame,
    *,
    kinds: Mapping[str, str],
    clock: ZoneInfo,
    last_known: pd.Timestamp | None,
) -> tuple[Spell, ...]:
    """Alarms of each sensor, joined where they follow within two days, oldest first.

    `alarms` is the stored table (UTC), `kinds` the kind of each sensor; alarms of devices that are
    not among them are left out. What a sensor chatters is one alarm over its whole record. A spell
    is open if it still lasted two days before `last_known`, the local date of the latest data.
    """
    done: list[Spell] = []
    for sensor, own in alarms.groupby("device_id", sort=True):
        kind = kinds.get(str(sensor))
        if kind is None:
            continue
        rows = own.sort_values("start_utc")
        weak = weak_spells(rows)
        for rows_of_one in _runs(rows[~weak]):
            done.append(_spell(str(sensor), kind, rows_of_one, clock, last_known, flapping=False))
        if weak.any():
            done.append(_spell(str(sensor), kind, rows[weak], clock, last_known, flapping=True))
    return tuple(sorted(done, key=lambda s: (s.start, s.sensor_id, s.flapping)))


def _runs(rows: pd.DataFrame) -> Iterator[pd.DataFrame]:
    """The rows that follow each other within two days, together."""
    if len(rows):
        before = rows["end_utc"].cummax().shift()
        yield from (
            own for _, own in rows.groupby((rows["start_utc"] - before > _SAME_ALARM).cumsum())
        )


def _spell(
    sensor: str,
    kind: str,
    rows: pd.DataFrame,
    clock: ZoneInfo,
    known: pd.Timestamp | None,
    *,
    flapping: bool,
) -> Spell:
    start, end = (
        pd.Timestamp(t).tz_convert(clock).tz_localize(None)
        for t in (rows["start_utc"].min(), rows["end_utc"].max())
    )
    return Spell(
        sensor,
        kind,
        start,
        end,
        alarm_h=float(rows["alarm_h"].sum()),
        onsets_count=int(rows["onsets_count"].sum()),
        open=known is None or end.normalize() >= known - FRESH,
        flapping=flapping,
    )


def night_of(start: pd.Timestamp, *, night_end: Any) -> pd.Timestamp:
    """The first night whose window a leak that began at `start` (local) can show in.

    `night_end` is the time of day at which the window of the night ends: a leak that begins after
    it shows in the window of the next morning.

    >>> from datetime import time
    >>> night_of(pd.Timestamp("2031-05-06 03:10"), night_end=time(4)).date().isoformat()
    '2031-05-06'
    >>> night_of(pd.Timestamp("2031-05-06 14:00"), night_end=time(4)).date().isoformat()
    '2031-05-07'
    """
    late = pd.Timedelta(days=1) if start.time() >= night_end else pd.Timedelta(0)
    return start.normalize() + late
