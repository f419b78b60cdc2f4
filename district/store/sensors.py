"""Samples reduced to hourly pressures, spells of alarm and the noise of nights."""

from __future__ import annotations

from datetime import time
from zoneinfo import ZoneInfo

import pandas as pd

from district.schema.columns import empty
from district.schema.inputs import ALARM_KINDS
from district.schema.stored import ACOUSTIC_NIGHTS, ALARMS, HOURLY_PRESSURES, SAMPLES
from district.store.database import Connection, as_declared, instants, put, span_us
from district.store.windows import HOUR_US, day_windows, local_dates, night_windows, quarter_hours

_DAY_US = 86_400_000_000
_PRESSURES = """
    SELECT s.device_id, q.day, q.hour, avg(s.value) AS pressure_m
    FROM samples s
    JOIN kinds k ON k.device_id = s.device_id AND k.kind = 'pressure'
    JOIN quarters q ON q.quarter = s.time_us // 900000000
    WHERE s.quality = 'ok' AND s.value IS NOT NULL
    GROUP BY s.device_id, q.day, q.hour
"""
_NOISE = """
    SELECT s.device_id, w.night, min(s.value) AS level_db, count(*) AS readings_count
    FROM samples s
    JOIN kinds k ON k.device_id = s.device_id AND k.kind = 'acoustic'
    JOIN noise_windows w ON s.time_us >= w.start_us AND s.time_us <= w.end_us
    WHERE s.quality = 'ok' AND s.value IS NOT NULL
    GROUP BY s.device_id, w.night
"""
_ALARMS = f"""
    WITH seen AS (
        SELECT s.device_id, s.time_us, s.value > 0.5 AS wet,
            s.time_us - lag(s.time_us) OVER own AS since_us,
            lead(s.time_us) OVER own - s.time_us AS left_us,
            lag(s.value > 0.5) OVER own AS was_wet
        FROM samples s
        JOIN kinds k ON k.device_id = s.device_id AND k.kind IN {ALARM_KINDS}
        WHERE s.quality = 'ok' AND s.value IS NOT NULL
        WINDOW own AS (PARTITION BY s.device_id ORDER BY s.time_us)
    ), wet AS (
        SELECT *, time_us - lag(time_us) OVER (PARTITION BY device_id ORDER BY time_us) AS dry_us
        FROM seen WHERE wet
    ), numbered AS (
        SELECT *, sum(CASE WHEN dry_us <= {_DAY_US} THEN 0 ELSE 1 END)
            OVER (PARTITION BY device_id ORDER BY time_us) AS spell
        FROM wet
    )
    SELECT device_id, min(time_us) AS start_us, max(time_us) AS end_us,
        count(*) AS readings_count,
        count(*) FILTER (was_wet IS NOT TRUE OR since_us > {_DAY_US}) AS onsets_count,
        sum(least(coalesce(left_us, 0), {_DAY_US})) / {HOUR_US}.0 AS alarm_h
    FROM numbered GROUP BY device_id, spell
"""


def hourly_pressures(
    connection: Connection,
    quality: pd.DataFrame,
    *,
    zone: ZoneInfo,
    dates: pd.DatetimeIndex | None = None,
) -> pd.DataFrame:
    """Table HOURLY_PRESSURES: mean of the sound samples of each local hour.

    Of local `dates`, all if not said. The hour that comes twice in autumn is one row, the mean of
    both rounds.
    """
    span = span_us(connection, SAMPLES)
    if span is None:
        return empty(HOURLY_PRESSURES)
    put(connection, "kinds", quality[["device_id", "kind"]])
    if dates is not None:
        span = _span_of(dates, zone)
    put(connection, "quarters", quarter_hours(*span, zone))
    return as_declared(connection.execute(_PRESSURES).df(), HOURLY_PRESSURES)


def alarms(connection: Connection, quality: pd.DataFrame) -> pd.DataFrame:
    """Table ALARMS: spells of wet readings; a pause of up to a day does not end a spell.

    How often it turned wet within one is counted: a sensor that chatters is told by that.
    """
    if span_us(connection, SAMPLES) is None:
        return empty(ALARMS)
    put(connection, "kinds", quality[["device_id", "kind"]])
    spells = connection.execute(_ALARMS).df()
    for end in ("start", "end"):
        spells[f"{end}_utc"] = instants(spells[f"{end}_us"])
    return as_declared(spells, ALARMS)


def acoustic_nights(
    connection: Connection,
    quality: pd.DataFrame,
    *,
    start: time,
    end: time,
    zone: ZoneInfo,
    dates: pd.DatetimeIndex | None = None,
) -> pd.DataFrame:
    """Table ACOUSTIC_NIGHTS: the lowest sound level from `start` to `end`, local time.

    Of local `dates`, all if not said. A leak is heard without a pause, use comes and goes: the
    lowest level is the leak's share.
    """
    span = span_us(connection, SAMPLES)
    if span is None:
        return empty(ACOUSTIC_NIGHTS)
    put(connection, "kinds", quality[["device_id", "kind"]])
    dates = local_dates(*span, zone) if dates is None else dates
    put(connection, "noise_windows", night_windows(dates, start, end, zone))
    return as_declared(connection.execute(_NOISE).df(), ACOUSTIC_NIGHTS)


def _span_of(dates: pd.DatetimeIndex, zone: ZoneInfo) -> tuple[int, int]:
    """First and last instant of local dates, µs since 1970."""
    windows = day_windows(dates, zone)
    return int(windows["start_us"].iloc[0]), int(windows["end_us"].iloc[-1]) - 1
