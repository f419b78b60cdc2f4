"""Stored readings reduced to what the stages need."""

from __future__ import annotations

from pathlib import Path

import duckdb
import pandas as pd
import pyarrow as pa

from district.results import Reduced
from district.schema.columns import empty
from district.schema.stored import LOWEST_HOURS
from district.settings import Settings
from district.store.database import opened
from district.store.keep import damaged, load_quality
from district.store.lowest import lowest_hours
from district.store.minima import night_minima
from district.store.sensors import acoustic_nights, alarms, hourly_pressures
from district.store.volumes import daily_volumes, night_flows


def reduce(
    place: Path,
    *,
    settings: Settings,
    boundaries: pd.DataFrame,
    users: pd.DataFrame | None = None,
) -> Reduced:
    """The readings kept at `place` as nights, days, hours, alarms and nightly noise, in SQL.

    `boundaries` as in `Network`: the meters between cells. `users`: device_id and cell_id of the
    meters of users, wanted where the night window rolls. Rows are in order of their key. Raises
    `StoreError` if what is kept is damaged.
    """
    try:
        return _reduced(place, settings, boundaries, users)
    except (OSError, pa.ArrowException, duckdb.Error) as reason:
        raise damaged(place) from reason


def _reduced(
    place: Path, settings: Settings, boundaries: pd.DataFrame, users: pd.DataFrame | None
) -> Reduced:
    zone, night = settings.zone_info(), settings.night
    quality = load_quality(place)
    with opened(place) as connection:
        minima = night_minima(
            connection,
            quality,
            boundaries,
            start=night.search_start,
            end=night.search_end,
            zone=zone,
        )
        return Reduced(
            quality=quality,
            night_flows=night_flows(connection, start=night.start, end=night.end, zone=zone),
            night_minima=minima,
            daily_volumes=daily_volumes(connection, zone=zone),
            hourly_pressures=hourly_pressures(connection, quality, zone=zone),
            alarms=alarms(connection, quality),
            acoustic_nights=acoustic_nights(
                connection, quality, start=night.start, end=night.end, zone=zone
            ),
            lowest_hours=lowest_hours(connection, minima, boundaries, users)
            if night.window == "rolling"
            else empty(LOWEST_HOURS),
        )
