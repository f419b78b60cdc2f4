"""Hours in which the meters of buildings stand still, by local day; what passes in empty hours."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any
from zoneinfo import ZoneInfo

import numpy as np
import pandas as pd

from district.schema.columns import empty
from district.schema.stored import INTERVALS, STILL_DAYS
from district.settings import EmptyHours
from district.store.database import Connection, as_declared, put, span_us
from district.store.empty_windows import empty_windows, rule_sets
from district.store.volumes import HOURLY_US
from district.store.windows import HOUR_US, by_hour, day_windows, local_dates, quarter_hours

READ = 0.9
"""Read to this share, an hour counts: polls waver, and seven minutes do not divide an hour."""
LEAST_M3 = 1e-7
"""Below any step of a register: what is left of a difference of two equal readings."""
_QUARTER_US = HOUR_US // 4
_LONGEST_DAY_H = 25
_HOUR_BITS, _DAY_BITS = 5, 24
"""A meter's hour as one number, to group by: meter, day and hour, each in bits of its own."""
_BIT = f"1::BIGINT << (slot & {2**_HOUR_BITS - 1})"
_MIDDLE = f"(i.start_us + i.end_us) // 2 // {_QUARTER_US}"
_HOURS = f"""
    SELECT slot >> {_HOUR_BITS} AS day_key,
        bit_or({_BIT}) FILTER (read_us >= {READ} * {HOUR_US}) AS read_mask,
        bit_or({_BIT}) FILTER (read_us >= {READ} * {HOUR_US} AND flowing_count = 0) AS still_mask,
        min(volume_m3 * 1e9 / read_us) FILTER (read_us >= {READ} * {HOUR_US}) AS lowest_l_s
    FROM (
        SELECT (m.number << {_DAY_BITS + _HOUR_BITS}) + q.slot AS slot,
            sum(i.end_us - i.start_us) AS read_us,
            sum(abs(i.volume_m3)) AS volume_m3,
            sum((abs(i.volume_m3) >= m.still_m3)::INTEGER) AS flowing_count
        FROM intervals i
        JOIN still_meters m ON m.device_id = i.device_id
        JOIN still_quarters q ON q.quarter = {_MIDDLE}
        WHERE i.quality = 'ok' AND i.end_us - i.start_us <= {HOURLY_US}
            AND i.volume_m3 IS NOT NULL
        GROUP BY 1
    ) GROUP BY 1
"""
_STUCK = f"""
    SELECT (m.number << {_DAY_BITS}) + (any_value(q.slot) >> {_HOUR_BITS}) AS day_key,
        sum(i.end_us - i.start_us)::DOUBLE / {HOUR_US} AS stuck_h
    FROM intervals i
    JOIN still_meters m ON m.device_id = i.device_id
    JOIN still_quarters q ON q.quarter = {_MIDDLE}
    WHERE i.quality = 'stuck' AND i.end_us - i.start_us <= {HOURLY_US}
    GROUP BY m.number, q.slot >> {_HOUR_BITS}
"""
_EMPTY = f"""
    WITH short AS (
        SELECT (m.number << {_DAY_BITS}) + (q.slot >> {_HOUR_BITS}) AS day_key,
            (i.end_us - i.start_us)::DOUBLE AS part_us,
            abs(i.volume_m3) AS part_m3
        FROM intervals i
        JOIN still_meters m ON m.device_id = i.device_id
        JOIN empty_by_hour w ON w.rules = m.rules AND w.hour = i.start_us // {HOUR_US}
            AND i.start_us >= w.start_us AND i.end_us <= w.end_us
        JOIN still_quarters q ON q.quarter = {_MIDDLE}
        WHERE m.rules >= 0 AND i.quality = 'ok' AND i.end_us - i.start_us <= {HOURLY_US}
            AND i.volume_m3 IS NOT NULL
    ), long AS (
        SELECT (m.number << {_DAY_BITS}) + d.day_number AS day_key,
            (least(i.end_us, d.end_us) - greatest(i.start_us, d.start_us))::DOUBLE AS part_us,
            abs(i.volume_m3) * part_us / (i.end_us - i.start_us) AS part_m3
        FROM intervals i
        JOIN still_meters m ON m.device_id = i.device_id
        JOIN empty_windows w ON w.rules = m.rules
            AND i.start_us >= w.start_us AND i.end_us <= w.end_us
        JOIN still_day_windows d ON i.start_us < d.end_us AND i.end_us > d.start_us
        WHERE m.rules >= 0 AND i.quality IN ('ok', 'gap') AND i.end_us - i.start_us > {HOURLY_US}
            AND i.volume_m3 IS NOT NULL
    )
    SELECT day_key, sum(part_m3) * 1000 / (sum(part_us) / 1e6) AS empty_l_s,
        sum(part_us) / {HOUR_US} AS empty_h
    FROM (SELECT * FROM short UNION ALL SELECT * FROM long) GROUP BY 1
"""


def still_days(
    connection: Connection,
    quality: pd.DataFrame,
    meters: pd.DataFrame,
    *,
    zone: ZoneInfo,
    empty_hours: Sequence[EmptyHours] = (),
    days: pd.DatetimeIndex | None = None,
) -> pd.DataFrame:
    """Table STILL_DAYS of `meters` (device_id, building_id) on local `days`, all if not said.

    `quality` is table DEVICE_QUALITY. Hours are counted from local midnight, so a day has 23 to
    25; an interval of an hour at most belongs to the hour its middle lies in. An hour is still
    where less than half a step of the register passed, either way. What passes while nobody is
    there is taken from sound intervals wholly within `empty_hours`, of any length: two readings
    at the ends of an empty weekend tell as much as hourly ones. A day with neither has no row;
    each day rests on its own readings alone.
    """
    span = span_us(connection, INTERVALS)
    if span is None or meters.empty:
        return empty(STILL_DAYS)
    wanted = local_dates(*span, zone) if days is None else days
    if not len(wanted):
        return empty(STILL_DAYS)
    sets, rules_of = rule_sets(meters, empty_hours)
    resolution_m3 = meters["device_id"].map(quality.set_index("device_id")["resolution_m3"])
    half = resolution_m3.astype(float).fillna(0.0).to_numpy() / 2.0
    known = pd.DataFrame(
        {
            "device_id": meters["device_id"].to_numpy(dtype=object),
            "number": np.arange(len(meters)),
            "still_m3": np.maximum(half, LEAST_M3),
            "rules": rules_of,
        }
    )
    windows = day_windows(wanted, zone).assign(day_number=np.arange(len(wanted)))
    put(connection, "still_meters", known)
    put(connection, "still_quarters", _quarters(windows, zone))
    parts = [connection.execute(query).df() for query in (_HOURS, _STUCK)]
    if len(sets):
        rows = empty_windows(sets, empty_hours, wanted, zone)
        put(connection, "still_day_windows", windows)
        put(connection, "empty_windows", rows)
        put(connection, "empty_by_hour", by_hour(rows, longest_us=HOURLY_US))
        parts.append(connection.execute(_EMPTY).df())
    return _table(parts, known["device_id"], wanted)


def _table(
    parts: list[pd.DataFrame], devices: pd.Series[Any], days: pd.DatetimeIndex
) -> pd.DataFrame:
    """What was found by meter and day, as one table."""
    found = pd.concat([part.set_index("day_key") for part in parts], axis=1)
    key = found.index.to_numpy(dtype=np.int64)
    for mask in ("read_mask", "still_mask"):
        found[mask] = found[mask].fillna(0).astype(np.int64)
    found = found.assign(**_spells(found))
    for name in ("stuck_h", "empty_h"):
        found[name] = found[name].fillna(0.0) if name in found else 0.0
    names = devices.to_numpy(dtype=object)[key >> _DAY_BITS]
    dates = days.to_numpy()[key & (2**_DAY_BITS - 1)]
    columns = list(STILL_DAYS.names())
    return as_declared(
        found.assign(device_id=names, day=dates).reindex(columns=columns), STILL_DAYS
    )


def _quarters(windows: pd.DataFrame, zone: ZoneInfo) -> pd.DataFrame:
    """Every quarter of an hour of the wanted days: quarter, and slot: its day and hour in one."""
    first, last = int(windows["start_us"].min()), int(windows["end_us"].max())
    quarters = quarter_hours(first, last, zone)[["quarter", "day"]].merge(windows, on="day")
    hour = (quarters["quarter"] * _QUARTER_US - quarters["start_us"]) // HOUR_US
    slot = quarters["day_number"] * 2**_HOUR_BITS + hour
    return pd.DataFrame({"quarter": quarters["quarter"], "slot": slot})


def _spells(by_day: pd.DataFrame) -> dict[str, Any]:
    """Counts and spells of hours, from one bit an hour: read, and still."""
    read, still = (by_day[f"{m}_mask"].to_numpy(dtype=np.int64) for m in ("read", "still"))
    hours = np.arange(_LONGEST_DAY_H)
    was_read, was_still = ((mask[:, None] >> hours) & 1 for mask in (read, still))
    longest, run = np.zeros((2, len(by_day)), dtype=np.int64)
    first = was_still.cumprod(axis=1).sum(axis=1)
    since = np.zeros(len(by_day), dtype=np.int64)
    for hour in hours:
        run = (run + 1) * was_still[:, hour]
        longest = np.maximum(longest, run)
        since = (since + was_read[:, hour]) * (1 - was_still[:, hour])
    # To the last hour read: of a day that is not over, or of 23 hours, the rest is not there.
    end = hours.max() - np.argmax(was_read[:, ::-1], axis=1)
    after_end = hours[None, :] > end[:, None]
    last = (was_still | after_end)[:, ::-1].cumprod(axis=1).sum(axis=1) - after_end.sum(axis=1)
    return {
        "hours_count": was_read.sum(axis=1),
        "still_count": was_still.sum(axis=1),
        "longest_still_h": longest,
        "still_first_h": first,
        "still_last_h": last,
        "flow_last_h": since,
    }
