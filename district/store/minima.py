"""The lowest rolling hour of each cell's net inflow by night."""

from __future__ import annotations

from datetime import time
from zoneinfo import ZoneInfo

import numpy as np
import pandas as pd

from district.schema.columns import empty
from district.schema.stored import INTERVALS, NIGHT_MINIMA
from district.store.database import Connection, as_declared, instants, put, span_us
from district.store.volumes import HOURLY_US, WHOLE
from district.store.windows import HOUR_US, by_hour, local_dates, night_windows

_STEPS_MINUTES = np.array([1, 2, 3, 4, 5, 6, 10, 12, 15, 20, 30, 60])
_MINIMA = f"""
    WITH touching AS (
        SELECT s.cell_id, s.sign, s.step_us, w.night, w.start_us AS from_us,
            (w.end_us - w.start_us) // s.step_us AS bins_count, i.device_id,
            i.start_us, i.end_us, i.volume_m3
        FROM intervals i
        JOIN search_windows w ON w.hour = i.start_us // {HOUR_US}
            AND i.start_us < w.end_us AND i.end_us > w.start_us
        JOIN sides s ON s.meter_id = i.device_id
        WHERE i.quality = 'ok' AND i.end_us - i.start_us <= {HOURLY_US}
    ), split AS (
        SELECT *, unnest(range(
            greatest(0, (greatest(start_us, from_us) - from_us) // step_us),
            least(bins_count, (end_us - from_us - 1) // step_us + 1)
        )) AS bin
        FROM touching
    ), shared AS (
        SELECT *, least(end_us, from_us + (bin + 1) * step_us)
            - greatest(start_us, from_us + bin * step_us) AS overlap_us
        FROM split
    ), by_meter AS (
        SELECT cell_id, night, bin, device_id, any_value(step_us) AS step_us,
            any_value(bins_count) AS bins_count,
            sum(overlap_us) >= {WHOLE} * any_value(step_us) AS whole,
            any_value(sign) * sum(volume_m3 * overlap_us / (end_us - start_us)) AS volume_m3
        FROM shared GROUP BY cell_id, night, bin, device_id
    ), by_cell AS (
        SELECT b.cell_id, b.night, b.bin, any_value(b.step_us) AS step_us,
            any_value(b.bins_count) AS bins_count, sum(b.volume_m3) AS volume_m3
        FROM by_meter b JOIN cells c ON c.cell_id = b.cell_id
        WHERE b.whole
        GROUP BY b.cell_id, b.night, b.bin, c.meters_count HAVING count(*) = c.meters_count
    ), rolling AS (
        SELECT cell_id, night, bins_count, step_us, bin,
            count(*) OVER (PARTITION BY cell_id, night) AS whole_count,
            sum(volume_m3) OVER (
                PARTITION BY cell_id, night ORDER BY bin
                RANGE BETWEEN ({HOUR_US} // step_us - 1) PRECEDING AND CURRENT ROW
            ) AS hour_m3
        FROM by_cell
    ), hours AS (
        SELECT cell_id, night, hour_m3,
            w.start_us + (bin + 1) * step_us - {HOUR_US} AS start_us,
            -- Sums of equal flows differ in their last digits.
            round(hour_m3, 9) AS about_m3
        FROM rolling JOIN search_nights w USING (night)
        WHERE whole_count = bins_count AND bin >= {HOUR_US} // step_us - 1
    )
    SELECT cell_id, night, min(hour_m3) / 3.6 AS minimum_night_flow_l_s,
        min({{'about_m3': about_m3, 'start_us': start_us}}).start_us AS start_us
    FROM hours GROUP BY cell_id, night
"""


def night_minima(
    connection: Connection,
    quality: pd.DataFrame,
    boundaries: pd.DataFrame,
    *,
    start: time,
    end: time,
    zone: ZoneInfo,
) -> pd.DataFrame:
    """Table NIGHT_MINIMA: lowest hour of net inflow from `start` to `end`, local time.

    `boundaries` has meter_id, upstream_cell_id, downstream_cell_id ('' for none); flow counts for
    the cell downstream and against the one upstream. The hour rolls by the coarsest step of the
    cell's meters. A night on which one of them lacks a reading, or reads less often than hourly,
    has no row.
    """
    span = span_us(connection, INTERVALS)
    edges = _with_steps(sides(boundaries), quality)
    if span is None or edges.empty:
        return empty(NIGHT_MINIMA)
    cells = edges.groupby("cell_id", as_index=False).agg(
        meters_count=("meter_id", "nunique"), step_us=("step_us", "max")
    )
    cells = cells[cells["step_us"].notna() & (cells["step_us"] <= HOUR_US)]
    cells["step_us"] = cells["step_us"].astype(np.int64)
    edges = edges.drop(columns="step_us").merge(cells[["cell_id", "step_us"]], on="cell_id")
    windows = night_windows(local_dates(*span, zone), start, end, zone)
    put(connection, "search_windows", by_hour(windows, longest_us=HOURLY_US))
    put(connection, "search_nights", windows)
    put(connection, "sides", edges)
    put(connection, "cells", cells)
    found = connection.execute(_MINIMA).df()
    return as_declared(found.assign(start_utc=instants(found["start_us"])), NIGHT_MINIMA)


def sides(boundaries: pd.DataFrame) -> pd.DataFrame:
    """One row a meter and cell it bounds: meter_id, cell_id, sign of its flow there.

    A meter with the same cell on both sides tells nothing of its inflow and has no row.
    """
    outer = boundaries[boundaries["downstream_cell_id"] != boundaries["upstream_cell_id"]]
    parts = [
        outer[["meter_id", side]].rename(columns={side: "cell_id"}).assign(sign=sign)
        for side, sign in (("downstream_cell_id", 1.0), ("upstream_cell_id", -1.0))
    ]
    both = pd.concat(parts, ignore_index=True)
    return both[both["cell_id"].notna() & (both["cell_id"] != "")]


def _with_steps(sides: pd.DataFrame, quality: pd.DataFrame) -> pd.DataFrame:
    """With the step each meter can be cut to.

    A step that does not divide the hour is taken up to the next that does; a meter that was
    never read has an endless one.
    """
    minutes = sides["meter_id"].map(quality.set_index("device_id")["step_h"]).astype(float) * 60
    at = np.searchsorted(_STEPS_MINUTES, minutes.round(3))
    steps = np.append(_STEPS_MINUTES * 60e6, np.inf)[np.minimum(at, len(_STEPS_MINUTES))]
    return sides.assign(step_us=np.where(minutes.isna(), np.inf, steps))
