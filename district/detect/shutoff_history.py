"""A meter's own history as a valve that shuts by itself would have seen it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
import pandas as pd

HOUR_US = 3_600_000_000
LONGEST_H = 1.0
"""Longer intervals say too little of how flow runs within them."""
_SLACK_US = 1_000_000
"""Clocks waver by a second."""
_LITRES_PER_M3 = 1000.0
_SAME_L_S = 1e-9
"""Flows nearer than this are one: what is left of reckoning back from volumes."""
Reals = np.ndarray[Any, np.dtype[np.float64]]
Wholes = np.ndarray[Any, np.dtype[np.int64]]
Bools = np.ndarray[Any, np.dtype[np.bool_]]
Span = tuple[int, int]
"""Begin and end in microseconds since 1970, UTC."""


@dataclass(frozen=True, eq=False)
class History:
    """Sound intervals of one meter of an hour at most, in order; arrays of one length."""

    start_us: Wholes
    end_us: Wholes
    flow_l_s: Reals
    linked: Bools
    """Whether each follows the one before without a gap."""

    def step_h(self) -> float:
        """Usual length of an interval; an hour where there is none."""
        if not len(self.start_us):
            return LONGEST_H
        return float(np.median(self.end_us - self.start_us)) / HOUR_US

    def read_h(self, among: Bools) -> float:
        """Hours read, of the intervals chosen."""
        return float((self.end_us - self.start_us)[among].sum()) / HOUR_US


@dataclass(frozen=True, eq=False)
class Runs:
    """Stretches during which the flow stayed above one flow, in order."""

    start_us: Wholes
    length_us: Wholes


def history_of(intervals: pd.DataFrame) -> History:
    """The history of one meter; table INTERVALS, rows in any order.

    Intervals that are not sound, or longer than an hour, are left out and break a run. Flow
    against the meter's direction counts as none.
    """
    frame = intervals[intervals["quality"] == "ok"].sort_values("start_utc")
    start, end = (pd.DatetimeIndex(frame[c]).as_unit("us").asi8 for c in ("start_utc", "end_utc"))
    volume = frame["volume_m3"].to_numpy(dtype=float)
    kept = (end > start) & (end - start <= LONGEST_H * HOUR_US + _SLACK_US) & ~np.isnan(volume)
    start, end, volume = start[kept], end[kept], volume[kept]
    flow = np.maximum(volume, 0.0) * _LITRES_PER_M3 / ((end - start) / 1e6)
    linked = np.zeros(len(start), dtype=bool)
    linked[1:] = np.abs(start[1:] - end[:-1]) <= _SLACK_US
    return History(start, end, flow, linked)


def runs_above(history: History, flow_l_s: float, *, among: Bools) -> Runs:
    """The runs of consecutive intervals with more than `flow_l_s`, of the intervals chosen."""
    above = among & (history.flow_l_s > flow_l_s + _SAME_L_S)
    goes_on = np.zeros(len(above), dtype=bool)
    goes_on[1:] = above[1:] & above[:-1] & history.linked[1:]
    begins = np.flatnonzero(above & ~goes_on)
    ends = np.flatnonzero(above & ~np.append(goes_on[1:], False))
    return Runs(history.start_us[begins], history.end_us[ends] - history.start_us[begins])


def outside(history: History, spans: Sequence[Span]) -> Bools:
    """Which intervals touch none of the spans."""
    free = np.ones(len(history.start_us), dtype=bool)
    for begin, end in spans:
        free &= (history.end_us <= begin) | (history.start_us >= end)
    return free


def within(history: History, span: Span) -> Bools:
    """Which intervals lie wholly in a span."""
    return np.asarray((history.start_us >= span[0]) & (history.end_us <= span[1]))
