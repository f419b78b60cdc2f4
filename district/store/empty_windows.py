"""When nobody is in a building, as instants: the rules of the settings laid over local days."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any
from zoneinfo import ZoneInfo

import numpy as np
import pandas as pd

from district.event_settings import WEEKDAYS
from district.settings import EmptyHours
from district.store.windows import instants_of

_MARGIN = pd.Timedelta(days=92)
"""An empty time that began so long before the days asked for is still known whole."""
_DAY = pd.Timedelta(days=1)
Array = np.ndarray[Any, Any]
Sets = tuple[tuple[int, ...], ...]


def rule_sets(meters: pd.DataFrame, empty_hours: Sequence[EmptyHours]) -> tuple[Sets, Array]:
    """The sets of rules that meters go by, and for each row of `meters` its set, -1 for none.

    `meters` has device_id and building_id; a rule names either. A set holds positions among
    `empty_hours`.
    """
    named = meters[["device_id", "building_id"]].to_numpy(dtype=object)
    applies = np.zeros((len(meters), len(empty_hours)), dtype=bool)
    for position, rule in enumerate(empty_hours):
        applies[:, position] = np.isin(named.astype(str), list(rule.places)).any(axis=1)
    own = [tuple(np.flatnonzero(row).tolist()) for row in applies]
    sets = tuple(sorted(set(own) - {()}))
    number = {rules: i for i, rules in enumerate(sets)}
    return sets, np.array([number.get(rules, -1) for rules in own], dtype=np.int64)


def empty_windows(
    sets: Sets, empty_hours: Sequence[EmptyHours], days: pd.DatetimeIndex, zone: ZoneInfo
) -> pd.DataFrame:
    """One row a set and unbroken empty time that touches `days`: rules, start_us, end_us.

    Times that overlap or touch are one: a weekend from Friday evening to Monday morning.
    """
    dates = pd.date_range(days.min() - _MARGIN, days.max() + _MARGIN, freq="D", unit="us")
    found = []
    for number, rules in enumerate(sets):
        spans = np.concatenate([_spans(empty_hours[r], dates, zone) for r in rules])
        joined = _joined(spans[spans[:, 1] > spans[:, 0]])
        found.append(
            pd.DataFrame({"rules": number, "start_us": joined[:, 0], "end_us": joined[:, 1]})
        )
    return pd.concat(found, ignore_index=True)


def _spans(rule: EmptyHours, dates: pd.DatetimeIndex, zone: ZoneInfo) -> Array:
    """Start and end of the rule on each of the dates whose weekday it names."""
    on = dates[np.isin(dates.day_of_week, [WEEKDAYS.index(w) for w in rule.weekdays])]
    last = on if rule.end > rule.start else on + _DAY
    starts = instants_of(on, rule.start, zone, first=True)
    return np.column_stack([starts, instants_of(last, rule.end, zone, first=False)])


def _joined(spans: Array) -> Array:
    ordered = spans[np.argsort(spans[:, 0], kind="stable")]
    if not len(ordered):
        return ordered
    reach = np.maximum.accumulate(ordered[:, 1])
    begins = np.append(True, ordered[1:, 0] > reach[:-1])
    firsts = np.flatnonzero(begins)
    return np.column_stack([ordered[firsts, 0], reach[np.append(firsts[1:], len(ordered)) - 1]])
