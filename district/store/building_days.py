"""What the store knows of buildings' meters: hours in which they stood still, and empty times."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from zoneinfo import ZoneInfo

import duckdb
import pandas as pd
import pyarrow as pa

from district.settings import EmptyHours
from district.store.database import opened
from district.store.empty_periods import empty_periods
from district.store.keep import damaged, load_quality
from district.store.still_days import still_days


def building_days(
    place: Path,
    meters: pd.DataFrame,
    works: pd.DataFrame,
    *,
    zone: ZoneInfo,
    empty_hours: Sequence[EmptyHours] = (),
) -> tuple[pd.DataFrame, pd.DataFrame]:
    """Tables STILL_DAYS and EMPTY_PERIODS of `meters` (device_id, building_id), kept at `place`.

    `works` is the input table (UTC). Raises `StoreError` if what is kept is damaged.
    """
    try:
        quality = load_quality(place)
        with opened(place) as connection:
            return (
                still_days(connection, quality, meters, zone=zone, empty_hours=empty_hours),
                empty_periods(connection, works[works["place_id"].isin(meters["device_id"])]),
            )
    except (OSError, pa.ArrowException, duckdb.Error) as reason:
        raise damaged(place) from reason
