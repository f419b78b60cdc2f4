"""Flow of chosen meters by hour, on chosen days: what a hydraulic model is fed with."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from zoneinfo import ZoneInfo

import duckdb
import pandas as pd
import pyarrow as pa

from district.schema.columns import empty
from district.schema.stored import HOURLY_FLOWS, INTERVALS
from district.store.database import as_declared, opened, put, span_us
from district.store.keep import damaged
from district.store.volumes import HOURLY_US, WHOLE
from district.store.windows import HOUR_US, by_hour, quarter_hours

_QUARTER_US = HOUR_US // 4
_HOURS = f"""
    SELECT device_id, day, local_hour AS hour, volume_m3 * 1000 / (covered_us / 1e6) AS flow_l_s
    FROM (
        SELECT i.device_id, w.day, w.local_hour, any_value(w.end_us - w.start_us) AS length_us,
            sum(least(i.end_us, w.end_us) - greatest(i.start_us, w.start_us))::DOUBLE AS covered_us,
            sum(i.volume_m3 * (least(i.end_us, w.end_us) - greatest(i.start_us, w.start_us))
                / (i.end_us - i.start_us)) AS volume_m3
        FROM intervals i
        JOIN wanted d ON d.device_id = i.device_id
        JOIN hour_windows w ON w.hour = i.start_us // {HOUR_US}
            AND i.start_us < w.end_us AND i.end_us > w.start_us
        WHERE i.quality = 'ok' AND i.end_us - i.start_us <= {HOURLY_US}
        GROUP BY i.device_id, w.day, w.local_hour
    )
    WHERE covered_us >= {WHOLE} * length_us
    ORDER BY device_id, day, hour
"""


def hourly_flows(
    place: Path, *, devices: Sequence[str], days: pd.DatetimeIndex, zone: ZoneInfo
) -> pd.DataFrame:
    """Table HOURLY_FLOWS of some meters on some local days, from the readings kept at `place`.

    Sound intervals of an hour at most, shared out by their overlap; an hour of which less than
    99 % was read has no row. The hour that comes twice in autumn is one row, the mean of both.
    Raises `StoreError` if what is kept is damaged.
    """
    try:
        if not len(days) or not len(devices):
            return empty(HOURLY_FLOWS)
        with opened(place, _months(days)) as connection:
            span = span_us(connection, INTERVALS)
            if span is None:
                return empty(HOURLY_FLOWS)
            quarters = quarter_hours(*span, zone)
            quarters = quarters[quarters["day"].isin(days)]
            put(connection, "wanted", pd.DataFrame({"device_id": sorted(set(devices))}))
            put(connection, "hour_windows", by_hour(_windows(quarters), longest_us=HOURLY_US))
            return as_declared(connection.execute(_HOURS).df(), HOURLY_FLOWS)
    except (OSError, pa.ArrowException, duckdb.Error) as reason:
        raise damaged(place) from reason


def _months(days: pd.DatetimeIndex) -> list[str]:
    """The months, UTC, that some local days may touch."""
    near = [days + pd.Timedelta(days=d) for d in (-1, 0, 1)]
    return sorted({m for some in near for m in some.strftime("%Y-%m")})


def _windows(quarters: pd.DataFrame) -> pd.DataFrame:
    """One row a local hour: day, local_hour, start_us, end_us."""
    by_local = quarters.groupby(["day", "hour"])["quarter"].agg(["min", "max"]).reset_index()
    return pd.DataFrame(
        {
            "day": by_local["day"],
            "local_hour": by_local["hour"],
            "start_us": by_local["min"] * _QUARTER_US,
            "end_us": (by_local["max"] + 1) * _QUARTER_US,
        }
    )
