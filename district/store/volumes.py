"""Intervals reduced to night flows and daily volumes."""

from __future__ import annotations

from datetime import time
from zoneinfo import ZoneInfo

import pandas as pd

from district.schema.columns import empty
from district.schema.stored import DAILY_VOLUMES, INTERVALS, NIGHT_FLOWS
from district.store.database import Connection, as_declared, put, span_us
from district.store.windows import day_windows, local_dates, night_windows

HOUR_US = 3_600_000_000
WHOLE = 0.99
"""Covered to this share, a window counts as read whole."""
_LONG_US = 25 * HOUR_US
"""Longer than any day: one of autumn has 25 hours."""

_NIGHTS = f"""
    SELECT device_id, night, volume_m3 * 1000 / (covered_us / 1e6) AS flow_l_s,
        length_us / {HOUR_US}.0 AS window_h, covered_us / length_us AS coverage_share
    FROM (
        SELECT i.device_id, w.night, any_value(w.end_us - w.start_us) AS length_us,
            sum(least(i.end_us, w.end_us) - greatest(i.start_us, w.start_us))::DOUBLE
                AS covered_us,
            sum(i.volume_m3 * (least(i.end_us, w.end_us) - greatest(i.start_us, w.start_us))
                / (i.end_us - i.start_us)) AS volume_m3
        FROM intervals i JOIN night_windows w
            ON i.start_us < w.end_us AND i.end_us > w.start_us
        WHERE i.quality = 'ok' AND i.end_us - i.start_us <= {HOUR_US + 1_000_000}
        GROUP BY i.device_id, w.night
    )
"""
_DAYS = f"""
    SELECT i.device_id, w.day,
        sum(i.volume_m3 * (least(i.end_us, w.end_us) - greatest(i.start_us, w.start_us))
            / (i.end_us - i.start_us)) AS volume_m3,
        sum(least(i.end_us, w.end_us) - greatest(i.start_us, w.start_us))::DOUBLE
            / any_value(w.end_us - w.start_us) AS coverage_share,
        sum(CASE WHEN i.end_us - i.start_us > {_LONG_US}
            THEN least(i.end_us, w.end_us) - greatest(i.start_us, w.start_us) ELSE 0 END)::DOUBLE
            / any_value(w.end_us - w.start_us) AS spread_share
    FROM intervals i JOIN day_windows w ON i.start_us < w.end_us AND i.end_us > w.start_us
    WHERE i.quality IN ('ok', 'gap')
    GROUP BY i.device_id, w.day
"""


def night_flows(connection: Connection, *, start: time, end: time, zone: ZoneInfo) -> pd.DataFrame:
    """Table NIGHT_FLOWS: sound intervals of an hour at most, shared out by their overlap.

    The flow is empty where less than 99 % of the window was read. A night of which a device has
    nothing has no row.
    """
    span = span_us(connection, INTERVALS)
    if span is None:
        return empty(NIGHT_FLOWS)
    put(connection, "night_windows", night_windows(local_dates(*span, zone), start, end, zone))
    flows = as_declared(connection.execute(_NIGHTS).df(), NIGHT_FLOWS)
    flows["flow_l_s"] = flows["flow_l_s"].where(flows["coverage_share"] >= WHOLE)
    return flows


def daily_volumes(connection: Connection, *, zone: ZoneInfo) -> pd.DataFrame:
    """Table DAILY_VOLUMES: sound and bridged intervals, shared out over local days."""
    span = span_us(connection, INTERVALS)
    if span is None:
        return empty(DAILY_VOLUMES)
    put(connection, "day_windows", day_windows(local_dates(*span, zone), zone))
    return as_declared(connection.execute(_DAYS).df(), DAILY_VOLUMES)
