"""Levels of tanks reduced to how far they rose over each night and day."""

from __future__ import annotations

from datetime import time
from zoneinfo import ZoneInfo

import numpy as np
import pandas as pd

from district.schema.columns import empty
from district.schema.stored import SAMPLES, TANK_CHANGES
from district.store.database import Connection, as_declared, put, span_us
from district.store.volumes import HOURLY_US
from district.store.windows import HOUR_US, day_windows, local_dates, night_windows

_LEVELS = """
    WITH levels AS (
        SELECT s.device_id, s.time_us, s.value
        FROM samples s JOIN kinds k ON k.device_id = s.device_id AND k.kind = 'tank_level'
        WHERE s.quality = 'ok' AND s.value IS NOT NULL
    ), wanted AS (
        SELECT t.device_id, i.at_us FROM (SELECT DISTINCT device_id FROM levels) t
        CROSS JOIN (SELECT DISTINCT at_us FROM instants) i
    )
    SELECT w.device_id, w.at_us, b.time_us AS before_us, b.value AS before_m,
        a.time_us AS after_us, a.value AS after_m
    FROM wanted w
    ASOF LEFT JOIN levels b ON b.device_id = w.device_id AND b.time_us <= w.at_us
    ASOF LEFT JOIN levels a ON a.device_id = w.device_id AND a.time_us >= w.at_us
"""


def tank_changes(
    connection: Connection, quality: pd.DataFrame, *, start: time, end: time, zone: ZoneInfo
) -> pd.DataFrame:
    """Table TANK_CHANGES: the level at both ends of each night window and local day.

    Between two sound readings at most an hour apart a straight line is drawn; further apart, the
    level is not known and empty. A window of which neither end is known has no row.
    """
    span = span_us(connection, SAMPLES)
    kinds = quality.loc[quality["kind"] == "tank_level", ["device_id", "kind"]]
    if span is None or kinds.empty:
        return empty(TANK_CHANGES)
    dates = local_dates(*span, zone)
    windows = pd.concat(
        [
            frame.rename(columns={period: "date"}).assign(period=period)
            for period, frame in (
                ("night", night_windows(dates, start, end, zone)),
                ("day", day_windows(dates, zone)),
            )
        ],
        ignore_index=True,
    )
    put(connection, "kinds", kinds)
    ends_us = np.unique(windows[["start_us", "end_us"]].to_numpy())
    put(connection, "instants", pd.DataFrame({"at_us": ends_us}))
    found = connection.execute(_LEVELS).df()
    level_m = found.assign(level_m=_between(found)).pivot(
        index="at_us", columns="device_id", values="level_m"
    )
    parts = [
        windows.assign(
            device_id=device_id,
            start_m=level.reindex(windows["start_us"]).to_numpy(dtype=float),
            end_m=level.reindex(windows["end_us"]).to_numpy(dtype=float),
            window_h=(windows["end_us"] - windows["start_us"]) / HOUR_US,
        )
        for device_id, level in level_m.items()
    ]
    if not parts:
        return empty(TANK_CHANGES)
    table = pd.concat(parts, ignore_index=True)
    table["coverage_share"] = table[["start_m", "end_m"]].notna().mean(axis=1)
    return as_declared(table[table["coverage_share"] > 0], TANK_CHANGES)


def _between(found: pd.DataFrame) -> pd.Series[float]:
    gap_us = found["after_us"].astype(float) - found["before_us"].astype(float)
    since_us = found["at_us"].astype(float) - found["before_us"].astype(float)
    share = since_us / gap_us.where(gap_us > 0, 1.0)
    level = found["before_m"] + share * (found["after_m"] - found["before_m"])
    return level.where(gap_us <= HOURLY_US)
