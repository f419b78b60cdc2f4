"""What passed through meters around times at which their premises stood empty, by the record."""

from __future__ import annotations

import pandas as pd

from district.schema.columns import empty
from district.schema.stored import EMPTY_PERIODS, INTERVALS
from district.store.database import Connection, as_declared, put, span_us
from district.store.windows import HOUR_US

_AROUND = f"""
    WITH read AS (
        SELECT e.device_id, e.start_us AS from_us, e.end_us AS to_us, i.start_us, i.end_us,
            i.volume_m3, (i.end_us - i.start_us)::DOUBLE / {HOUR_US} AS length_h,
            i.start_us >= e.start_us AND i.end_us <= e.end_us AS inside,
            i.start_us < e.end_us AND i.end_us > e.start_us AS over
        FROM empty_spans e LEFT JOIN intervals i ON i.device_id = e.device_id
            AND i.quality IN ('ok', 'gap') AND i.volume_m3 IS NOT NULL
    )
    SELECT device_id, from_us, to_us,
        coalesce(sum(length_h) FILTER (inside), 0) AS inside_h,
        coalesce(sum(volume_m3) FILTER (inside), 0) AS inside_m3,
        sum(length_h) FILTER (over) AS over_h, sum(volume_m3) FILTER (over) AS over_m3,
        min(start_us) FILTER (over) AS first_us, max(end_us) FILTER (over) AS last_us,
        sum(volume_m3) FILTER (NOT over) / sum(length_h) FILTER (NOT over) AS usual_m3_h
    FROM read GROUP BY device_id, from_us, to_us
"""


def empty_periods(connection: Connection, works: pd.DataFrame) -> pd.DataFrame:
    """Table EMPTY_PERIODS: a row for each work of kind `empty` with an end, at the place it names.

    `works` is the input table (UTC). Sound and bridged intervals of any length count; `over_h` is
    empty where the readings do not reach round the whole time.
    """
    told = works[(works["kind"] == "empty") & works["start"].notna() & works["end"].notna()]
    times = {
        end: pd.DatetimeIndex(pd.to_datetime(told[end], utc=True)).as_unit("us")
        for end in ("start", "end")
    }
    spans = pd.DataFrame(
        {
            "device_id": told["place_id"].astype(str).to_numpy(dtype=object),
            "start_us": times["start"].asi8,
            "end_us": times["end"].asi8,
        }
    ).drop_duplicates()
    spans = spans[spans["end_us"] > spans["start_us"]]
    if spans.empty or span_us(connection, INTERVALS) is None:
        return empty(EMPTY_PERIODS)
    put(connection, "empty_spans", spans)
    found = connection.execute(_AROUND).df()
    around = (found["first_us"] <= found["from_us"]) & (found["last_us"] >= found["to_us"])
    # Without a reading lost on the way.
    whole = around & (found["over_h"] >= (found["last_us"] - found["first_us"]) / HOUR_US - 1e-6)
    found[["over_h", "over_m3"]] = found[["over_h", "over_m3"]].where(whole)
    for end, kept in (("start", "from_us"), ("end", "to_us")):
        stamps = pd.to_datetime(found[kept], unit="us", utc=True)
        found[f"{end}_utc"] = pd.DatetimeIndex(stamps).as_unit("us")
    return as_declared(found, EMPTY_PERIODS)
