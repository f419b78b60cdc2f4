"""Leaks that a valve which shuts by itself is held against: past ones, else assumed ones."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any
from zoneinfo import ZoneInfo

import numpy as np
import pandas as pd

from district.detect.shutoff_history import HOUR_US, History, Span, outside, runs_above, within
from district.units import M3_PER_L_S_H
from district.words import true

LEAST_HELD_H = 48.0
"""Flow that did not stop for so long is taken for a leak, where it usually stops (lowest hourly
flow above zero over 48 h: Britton, Stewart and O'Halloran 2013, from memory)."""
_USUALLY_STOPS = 0.1
"""Of the history, such flow may not take more: where it comes again and again it is use, as of
flats where somebody is always up. Common practice, no source."""
ASSUMED_L_S = {"a burst hose": 0.25, "a burst riser": 1.0}
"""Sizes assumed where no leak is on record. Common practice, no source."""
UNNOTICED_H = 64.0
"""A leak of a Friday evening that is seen on Monday morning. Assumed."""
ASSUMED_STARTS = 96
"""Instants, spread over the history, at which the assumed leaks are let begin."""
_DAY = pd.Timedelta(days=1)


@dataclass(frozen=True)
class Leak:
    """A leak of the past behind one meter."""

    span: Span
    earlier_h: float
    """How much earlier it may have begun."""
    volume_m3: tuple[float, float, float]
    """Value and 95 % limits."""
    grows: bool
    told_by: str

    def hours(self) -> float:
        """How long it ran."""
        return (self.span[1] - self.span[0]) / HOUR_US


def past_leaks(
    device_id: str,
    history: History,
    *,
    events: pd.DataFrame,
    checks: pd.DataFrame,
    never_zero_h: float,
    clock: ZoneInfo,
) -> tuple[Leak, ...]:
    """Leaks behind a meter by its events, its constant flow, and what else its history holds.

    `events` table EVENTS, `checks` table BUILDING_CHECKS. What tells of the same time counts once,
    in that order. What a recorded work explains is no leak.
    """
    if not len(history.start_us):
        return ()
    last_us = int(history.end_us[-1])
    found: list[Leak] = []
    own = events[
        (events["place_kind"] == "building")
        & (events["place_id"] == device_id)
        & (events["kind"] == "building_flow")
        & (events["state"] != "explained")
    ]
    for row in own.sort_values("start").itertuples():
        begin = _midnight_us(row.start, clock)
        end = last_us if pd.isna(row.end) else _midnight_us(row.end + _DAY, clock)
        early = row.start if pd.isna(row.start_low) else row.start_low
        grows = bool(row.growth_l_s_d > 0)
        _add(found, row, "size_l_s", (begin, end), (row.start - early) / _DAY * 24, grows, "event")
    flows = checks["verdict"].eq("constant_flow") & checks["act"].map(true).astype(bool)
    steady = checks[(checks["device_id"] == device_id) & flows]
    for row in steady[steady["since"].notna()].itertuples():
        span = (_midnight_us(row.since, clock), last_us)
        _add(found, row, "constant_l_s", span, 0.0, False, "constant flow")
    spans = [leak.span for leak in found]
    for leak in _held(history, spans, max(LEAST_HELD_H, never_zero_h)):
        found.append(leak)
    return tuple(sorted(found, key=lambda leak: leak.span))


def spans_apart(leaks: Sequence[Leak]) -> list[Span]:
    """What to leave out of the leak-free history: each leak, and a day on either side."""
    day = 24 * HOUR_US
    return [
        (leak.span[0] - int(leak.earlier_h * HOUR_US) - day, leak.span[1] + day) for leak in leaks
    ]


def _add(
    found: list[Leak],
    row: Any,
    size: str,
    span: Span,
    earlier_h: float,
    grows: bool,
    told_by: str,
) -> None:
    overlaps = any(span[0] < other.span[1] and other.span[0] < span[1] for other in found)
    if span[1] <= span[0] or overlaps:
        return
    hours = (span[1] - span[0]) / HOUR_US
    share = 0.5 if grows else 1.0
    sizes = [getattr(row, f"{size}{limit}") for limit in ("", "_low", "_high")]
    by_size = [float(s) * M3_PER_L_S_H * hours * share for s in sizes]
    stated = [float(getattr(row, f"volume_m3{limit}")) for limit in ("", "_low", "_high")]
    value = stated[0] if np.isfinite(stated[0]) else by_size[0]
    if not np.isfinite(value) or value <= 0:
        return
    chosen = stated if np.isfinite(stated[0]) else by_size
    low = chosen[1] if np.isfinite(chosen[1]) else value
    high = chosen[2] if np.isfinite(chosen[2]) else value
    volume = (value, min(low, value), max(high, value))
    found.append(Leak(span, earlier_h, volume, grows, told_by))


def _held(history: History, known: Sequence[Span], least_h: float) -> list[Leak]:
    """Flow that did not stop for long, where it usually does and nothing else tells of it."""
    free = outside(history, known)
    runs = runs_above(history, 0.0, among=free)
    long = runs.length_us >= least_h * HOUR_US
    read_h = history.read_h(free)
    if not long.any() or runs.length_us[long].sum() / HOUR_US > _USUALLY_STOPS * read_h:
        return []
    leaks = []
    for begin, length in zip(runs.start_us[long], runs.length_us[long], strict=True):
        span = (int(begin), int(begin + length))
        flow = history.flow_l_s[within(history, span)]
        # The least flow is the leak's; use comes on top of it now and then.
        sizes = [float(np.quantile(flow, q)) for q in (0.05, 0.0, 0.25)]
        value, low, high = (s * M3_PER_L_S_H * length / HOUR_US for s in sizes)
        leaks.append(Leak(span, 0.0, (value, low, high), False, "history"))
    return leaks


def _midnight_us(date: pd.Timestamp, clock: ZoneInfo) -> int:
    local = pd.Timestamp(date).tz_localize(None).normalize()
    at = local.tz_localize(clock, ambiguous=True, nonexistent="shift_forward")
    return int(at.value // 1000)
