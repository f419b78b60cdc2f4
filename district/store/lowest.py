"""Flow of each cell's meters over the cell's lowest rolling hour."""

from __future__ import annotations

import pandas as pd

from district.schema.columns import empty
from district.schema.stored import LOWEST_HOURS
from district.store.database import Connection, as_declared, put
from district.store.minima import sides
from district.store.volumes import HOURLY_US, WHOLE
from district.store.windows import HOUR_US, by_hour

_LOWEST = f"""
    WITH cut AS (
        SELECT d.cell_id, i.device_id, h.night, i.volume_m3, i.end_us - i.start_us AS length_us,
            least(i.end_us, h.end_us) - greatest(i.start_us, h.start_us)
                AS overlap_us
        FROM intervals i
        JOIN devices d ON d.device_id = i.device_id
        JOIN lowest h ON h.cell_id = d.cell_id AND h.hour = i.start_us // {HOUR_US}
            AND i.start_us < h.end_us AND i.end_us > h.start_us
        WHERE i.quality = 'ok' AND i.end_us - i.start_us <= {HOURLY_US}
    )
    SELECT cell_id, device_id, night,
        CASE WHEN sum(overlap_us) >= {WHOLE} * {HOUR_US}
            THEN sum(volume_m3 * overlap_us / length_us) * 1000 / (sum(overlap_us) / 1e6)
        END AS flow_l_s,
        CASE WHEN sum(overlap_us) >= {WHOLE} * {HOUR_US}
            THEN sum(abs(volume_m3) * overlap_us / length_us) * 1000 / (sum(overlap_us) / 1e6)
        END AS gross_l_s,
        1.0 AS window_h, sum(overlap_us) / {HOUR_US}.0 AS coverage_share
    FROM cut GROUP BY cell_id, device_id, night
"""


def lowest_hours(
    connection: Connection,
    minima: pd.DataFrame,
    boundaries: pd.DataFrame,
    users: pd.DataFrame | None,
) -> pd.DataFrame:
    """Table LOWEST_HOURS: the lowest hour of each row of table NIGHT_MINIMA, meter by meter.

    `boundaries` as in `Network`; `users` has device_id and cell_id, a meter in each cell where it
    serves someone. Flow is by the meter's own direction; beside it stands what
    passed either way. Both are empty where less than 99 % of the
    hour was read in intervals of an hour at most; a night of which a meter has nothing has no row.
    """
    at_edge = sides(boundaries).rename(columns={"meter_id": "device_id"})
    parts = [at_edge] if users is None else [at_edge, users]
    devices = pd.concat([p[["device_id", "cell_id"]] for p in parts]).drop_duplicates()
    if minima.empty or devices.empty:
        return empty(LOWEST_HOURS)
    starts = pd.DatetimeIndex(minima["start_utc"]).as_unit("us").asi8
    hours = minima[["cell_id", "night"]].assign(start_us=starts, end_us=starts + HOUR_US)
    put(connection, "lowest", by_hour(hours, longest_us=HOURLY_US))
    put(connection, "devices", devices.reset_index(drop=True))
    return as_declared(connection.execute(_LOWEST).df(), LOWEST_HOURS)
