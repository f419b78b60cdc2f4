"""Spells that go on from day to day: a meter still, or flowing, without a break."""

from __future__ import annotations

from typing import Any

import numpy as np
import pandas as pd

PAUSE_DAYS = 3
"""Readings may be missing for so long within a run (common practice, no source)."""
_WHOLE_DAY_H = 23
Array = np.ndarray[Any, Any]


def unbroken(still: pd.DataFrame) -> pd.DataFrame:
    """The rows of table STILL_DAYS with hours read, by device and day, and what joins them.

    spell_h
        longest spell without flow that ended or stood on that day, over midnight; a missing hour
        or day ends it, so it is certain.
    run_h, run_since, run_known
        hours read at the day's end since the last still one, the day that began on, and whether
        a still hour was seen before it, within three days of missing readings.
    idle_h, idle_since, idle_known
        the same for hours without flow.
    """
    rows = still[still["hours_count"] > 0].sort_values(["device_id", "day"], ignore_index=True)
    hours, count = (rows[c].to_numpy(dtype=float) for c in ("hours_count", "still_count"))
    first, last = (rows[f"still_{c}_h"].to_numpy(dtype=float) for c in ("first", "last"))
    apart = _days_since_the_last(rows)
    next_day, near = apart == 1, apart <= PAUSE_DAYS + 1
    whole = (rows["longest_still_h"].to_numpy(dtype=float) == hours) & (hours >= _WHOLE_DAY_H)
    to_midnight, _ = _chained(last, hours, through=whole, linked=next_day)
    before = np.where(next_day, np.append(0.0, to_midnight[:-1]), 0.0)[: len(rows)]
    spell = np.maximum(rows["longest_still_h"].to_numpy(dtype=float), before + first)
    flowing, idle = count == 0, count == hours
    run, run_row = _chained(
        rows["flow_last_h"].to_numpy(dtype=float), hours, through=flowing, linked=near
    )
    idle_h, idle_row = _chained(last, hours, through=idle, linked=near)
    days = rows["day"].to_numpy()
    return rows.assign(
        spell_h=np.maximum(spell, to_midnight),
        run_h=run,
        run_since=_began(days, run_row, flowing, rows["flow_last_h"].to_numpy(dtype=float)),
        run_known=~flowing[run_row] if len(rows) else flowing,
        idle_h=idle_h,
        idle_since=_began(days, idle_row, idle, last),
        idle_known=~idle[idle_row] if len(rows) else idle,
    )


def last_rows(rows: pd.DataFrame) -> pd.DataFrame:
    """The last row of each device, indexed by it; `rows` in order of device and day."""
    return rows.drop_duplicates("device_id", keep="last").set_index("device_id")


def each(rows: pd.DataFrame, values: pd.Series[Any]) -> pd.Series[Any]:
    """What is known by device, for each row, in its own kind whether or not there are any."""
    return pd.Series(values.reindex(rows["device_id"]).to_numpy(), index=rows.index)


def _days_since_the_last(rows: pd.DataFrame) -> Array:
    """Days between each row and the one before; endless at a device's first."""
    device, day = rows["device_id"].to_numpy(), rows["day"].to_numpy(dtype="datetime64[D]")
    apart = np.full(len(rows), np.inf)
    if len(rows) > 1:
        same = device[1:] == device[:-1]
        apart[1:] = np.where(same, np.diff(day).astype(float), np.inf)
    return apart


def _chained(tail: Array, hours: Array, *, through: Array, linked: Array) -> tuple[Array, Array]:
    """Hours of the spell at each day's end, and the row it began on.

    A day on which the spell lasts `through` adds all its hours where it is `linked` to the day
    before; any other begins anew with its `tail`.
    """
    if not len(tail):
        return tail, np.empty(0, dtype=np.int64)
    anew = ~(through & linked)
    total = np.cumsum(np.where(anew, 0.0, hours))
    start = np.maximum.accumulate(np.where(anew, np.arange(len(tail)), 0))
    own = np.where(through, hours, tail)
    return own[start] + total - total[start], start


def _began(days: Array, start: Array, through: Array, tail: Array) -> Array:
    """The day each spell began: that of its first row, or the next where that one had none."""
    if not len(days):
        return days
    later = ~through[start] & (tail[start] == 0)
    row = np.minimum(start + later, np.arange(len(days)))
    return np.asarray(days[row])
