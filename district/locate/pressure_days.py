"""Which days are compared: before a leak and with it, when nothing else in its zone changed."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from typing import Any

import numpy as np
import pandas as pd

from district.hydraulics.model import Reals
from district.locate.sought import LEAK_KINDS
from district.locate.spots import Sought
from district.words import day, plural

WINDOW_DAYS = 28
"""Most days on either side: four weeks, so that each weekday counts alike."""
FEWEST_DAYS = 3
"""Fewest days on a side that are worth comparing."""
_DAY = pd.Timedelta(days=1)
_SPAN = WINDOW_DAYS * _DAY


@dataclass(frozen=True, eq=False)
class Windows:
    """Days compared, in order, and how far the leak has come on each.

    `before`, `after`: local dates. `course` (days): share of the leak's size on each, 0 before
    it; a growing leak is taken to grow evenly. `reason`: why there is nothing to compare, a
    sentence; '' where there is.
    """

    before: pd.DatetimeIndex
    after: pd.DatetimeIndex
    course: Reals
    reason: str = ""


def days_wanted(events: pd.DataFrame, *, last: date) -> pd.DatetimeIndex:
    """Local dates that the pressure evidence of all open leaks needs, in order.

    Parameters: `events` table EVENTS; `last` the latest date with readings. Four weeks before the
    earliest start of each leak and four weeks from the day after its latest start; the latest
    four weeks of a growing leak.
    """
    rows = events[(events["place_kind"] == "zone") & (events["state"] == "open")]
    rows = rows[rows["kind"].isin(LEAK_KINDS)]
    wanted: set[Any] = set()
    for row in rows.itertuples():
        low, high = _start(row.start, row.start_low, row.start_high)
        wanted |= set(_before(low))
        wanted |= set(_after(high, pd.Timestamp(last), growing=row.kind == "growing_leak"))
    return pd.DatetimeIndex(sorted(wanted))


def windows(sought: Sought, events: pd.DataFrame, known: pd.DatetimeIndex) -> Windows:
    """Days to compare for one leak.

    Parameters: `events` table EVENTS, of which other changes of the same zone narrow the days to
    the quiet ones next to the leak's start; `known` days with flows and pressures.
    """
    if sought.start is None or not len(known):
        return _nothing(
            "it is not known when the leak began."
            if sought.start is None
            else "no day has flows and pressures."
        )
    low, high = _start(sought.start, sought.start_low, sought.start_high)
    last = pd.Timestamp(known.max())
    before = known[known.isin(_before(low))].sort_values()
    after = known[known.isin(_after(high, last, growing=sought.kind == "growing_leak"))]
    after = after.sort_values()
    for first, final in _others(sought, events):
        if first <= high and final >= low:
            return _nothing(
                f"another change in the zone about {day(first)} falls on the leak's start."
            )
        before = before[before > final] if final < low else before
        after = after[after < first] if first > high else after
    for side, days in (("before the leak", before), ("with the leak", after)):
        if len(days) < FEWEST_DAYS:
            return _nothing(
                f"{plural(len(days), 'quiet day')} {side} with flows and pressures, at least "
                f"{FEWEST_DAYS} are needed."
            )
    begun = np.ones(len(after))
    if sought.kind == "growing_leak":
        start = pd.Timestamp(sought.start)
        begun = ((after - start + _DAY) / (last - start + _DAY)).to_numpy(dtype=float)
    return Windows(before, after, np.concatenate([np.zeros(len(before)), begun]))


def _nothing(reason: str) -> Windows:
    none = pd.DatetimeIndex([])
    said = f"The pressures before and after cannot be compared: {reason}"
    return Windows(none, none, np.zeros(0), said)


def _start(start: Any, low: Any, high: Any) -> tuple[pd.Timestamp, pd.Timestamp]:
    middle = pd.Timestamp(start)
    earliest = middle if low is None or pd.isna(low) else pd.Timestamp(low)
    latest = middle if high is None or pd.isna(high) else pd.Timestamp(high)
    return earliest, latest


def _before(low: pd.Timestamp) -> pd.DatetimeIndex:
    return pd.date_range(low - _SPAN, low - _DAY, freq="D")


def _after(high: pd.Timestamp, last: pd.Timestamp, *, growing: bool) -> pd.DatetimeIndex:
    first = max(high + _DAY, last - _SPAN + _DAY) if growing else high + _DAY
    return pd.date_range(first, min(first + _SPAN - _DAY, last), freq="D")


def _others(sought: Sought, events: pd.DataFrame) -> list[tuple[pd.Timestamp, pd.Timestamp]]:
    """Days over which the zone's other changes came or went, earliest and latest."""
    own = events[(events["place_kind"] == "zone") & (events["place_id"] == sought.cell_id)]
    own = own[own["event_id"] != sought.sought_id]
    spans = [_start(row.start, row.start_low, row.start_high) for row in own.itertuples()]
    ends = pd.to_datetime(own["end"]).dropna()
    return spans + [(end, end + _DAY) for end in ends]
