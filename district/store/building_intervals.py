"""Intervals of chosen meters, a few meters at a time."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from pathlib import Path

import duckdb
import pandas as pd
import pyarrow as pa

from district.schema.stored import INTERVALS
from district.store.database import instants, opened, put
from district.store.keep import damaged

AT_ONCE = 20
"""Meters held at a time: 1.4 million rows of two years of quarter hours."""
_ROWS = """
    SELECT i.device_id, i.start_us, i.end_us, i.volume_m3, i.quality
    FROM intervals i JOIN asked a ON a.device_id = i.device_id
    ORDER BY i.device_id, i.start_us
"""


def building_intervals(
    place: Path, *, devices: Sequence[str], at_once: int = AT_ONCE
) -> Iterator[pd.DataFrame]:
    """Frames of table INTERVALS, each with all rows of up to `at_once` meters, in order of device.

    A meter without intervals is in none. Raises `StoreError` if what is kept is damaged.
    """
    wanted = sorted(set(devices))
    if not wanted:
        return
    try:
        with opened(place) as connection:
            for first in range(0, len(wanted), at_once):
                asked = pd.DataFrame({"device_id": wanted[first : first + at_once]})
                put(connection, "asked", asked)
                rows = connection.execute(_ROWS).df()
                for end in ("start", "end"):
                    rows[f"{end}_utc"] = instants(rows[f"{end}_us"])
                yield rows[list(INTERVALS.names())]
    except (OSError, pa.ArrowException, duckdb.Error) as reason:
        raise damaged(place) from reason
