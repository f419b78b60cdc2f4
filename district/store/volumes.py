"""Intervals reduced to night flows and daily volumes."""

from __future__ import annotations

from datetime import time
from zoneinfo import ZoneInfo

import pandas as pd

from district.schema.columns import empty
from district.schema.stored import DAILY_VOLUMES, INTERVALS, NIGHT_FLOWS
from district.store.database import Connection, as_declared, put, span_us
from district.store.windows import HOUR_US, by_hour, day_windows, local_dates, night_windows

WHOLE = 0.99
"""Covered to this share, a window counts as read whole."""
HOURLY_US = HOUR_US + 1_000_000
"""The longest interval a night is read from; a second for clocks that waver."""
_LONG_US = 25 * HOUR_US
"""Longer than any day: one of autumn has 25 hours."""

_NIGHTS = f"""
    SELECT device_id, night, volume_m3 * 1000 / (covered_us / 1e6) AS flow_l_s,
        gross_m3 * 1000 / (covered_us / 1e6) AS gross_l_s,
        length_us / {HOUR_US}.0 AS window_h, covered_us / length_us AS coverage_share
    FROM (
        SELECT device_id, night, any_value(length_us) AS length_us,
            sum(overlap_us)::DOUBLE AS covered_us, sum(part_m3) AS volume_m3,
            sum(abs(part_m3)) AS gross_m3
        FROM (
            SELECT i.device_id, w.night, w.end_us - w.start_us AS length_us,
                least(i.end_us, w.end_us) - greatest(i.start_us, w.start_us) AS overlap_us,
                i.volume_m3 * overlap_us / (i.end_us - i.start_us) AS part_m3
            FROM intervals i JOIN night_windows w ON w.hour = i.start_us // {HOUR_US}
                AND i.start_us < w.end_us AND i.end_us > w.start_us
            WHERE i.quality = 'ok' AND i.end_us - i.start_us <= {HOURLY_US}
        )
        GROUP BY device_id, night
    )
"""
_DAYS = f"""
    WITH shares AS (
        SELECT i.*, w.day, w.start_us AS day_start_us, w.end_us AS day_end_us
        FROM intervals i JOIN days_by_hour w ON w.hour = i.start_us // {HOUR_US}
            AND i.start_us < w.end_us AND i.end_us > w.start_us
        WHERE i.quality IN ('ok', 'gap') AND i.end_us - i.start_us <= {_LONG_US}
        UNION ALL
        SELECT i.*, w.day, w.start_us, w.end_us
        FROM intervals i JOIN day_windows w ON i.start_us < w.end_us AND i.end_us > w.start_us
        WHERE i.quality IN ('ok', 'gap') AND i.end_us - i.start_us > {_LONG_US}
    ), cut AS (
        SELECT *, least(end_us, day_end_us) - greatest(start_us, day_start_us) AS overlap_us,
            volume_m3 * overlap_us / (end_us - start_us) AS part_m3
        FROM shares
    )
    SELECT device_id, day, sum(part_m3) AS volume_m3, sum(abs(part_m3)) AS gross_m3,
        sum(overlap_us)::DOUBLE / any_value(day_end_us - day_start_us) AS coverage_share,
        sum(CASE WHEN end_us - start_us > {_LONG_US} THEN overlap_us ELSE 0 END)::DOUBLE
            / any_value(day_end_us - day_start_us) AS spread_share
    FROM cut GROUP BY device_id, day
"""


def night_flows(
    connection: Connection,
    *,
    start: time,
    end: time,
    zone: ZoneInfo,
    dates: pd.DatetimeIndex | None = None,
) -> pd.DataFrame:
    """Table NIGHT_FLOWS of local `dates`, all if not said.

    Sound intervals of an hour at most, shared out by their overlap.
    Beside the net flow stands what passed either way, which a meter's error goes by. Both are
    empty where less than 99 % of the window was read. A night of which a device has nothing has no
    row.
    """
    span = span_us(connection, INTERVALS)
    if span is None:
        return empty(NIGHT_FLOWS)
    dates = local_dates(*span, zone) if dates is None else dates
    windows = night_windows(dates, start, end, zone)
    put(connection, "night_windows", by_hour(windows, longest_us=HOURLY_US))
    flows = as_declared(connection.execute(_NIGHTS).df(), NIGHT_FLOWS)
    for flow in ("flow_l_s", "gross_l_s"):
        flows[flow] = flows[flow].where(flows["coverage_share"] >= WHOLE)
    return flows


def daily_volumes(
    connection: Connection, *, zone: ZoneInfo, dates: pd.DatetimeIndex | None = None
) -> pd.DataFrame:
    """Table DAILY_VOLUMES of local `dates`, all if not said.

    Sound and bridged intervals, shared out over local days.
    """
    span = span_us(connection, INTERVALS)
    if span is None:
        return empty(DAILY_VOLUMES)
    windows = day_windows(local_dates(*span, zone) if dates is None else dates, zone)
    put(connection, "day_windows", windows)
    put(connection, "days_by_hour", by_hour(windows, longest_us=_LONG_US))
    return as_declared(connection.execute(_DAYS).df(), DAILY_VOLUMES)
