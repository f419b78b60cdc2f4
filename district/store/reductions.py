"""Stored readings reduced to what the stages need."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import duckdb
import pandas as pd
import pyarrow as pa

from district.results import Reduced
from district.schema.stored import (
    ACOUSTIC_NIGHTS,
    DAILY_VOLUMES,
    HOURLY_PRESSURES,
    LOWEST_HOURS,
    NIGHT_FLOWS,
    NIGHT_MINIMA,
)
from district.settings import Settings
from district.store.by_month import Reduction, by_month, marked
from district.store.database import opened
from district.store.keep import damaged, load_quality
from district.store.long_tables import from_arrow
from district.store.lowest import lowest_hours
from district.store.manifest import read_manifest
from district.store.minima import edges_by_step, night_minima, sides
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
    zone = settings.zone_info()
    quality, manifest = load_quality(place), read_manifest(place)
    if manifest is None:
        raise damaged(place)
    found = by_month(place, manifest, _wanted(quality, settings, boundaries, users), zone=zone)
    # Spells of alarm run on over months, and sensors are few.
    with opened(place) as connection:
        spells = alarms(connection, quality)
    return Reduced(quality=quality, alarms=spells, **found)


def _wanted(
    quality: pd.DataFrame, settings: Settings, boundaries: pd.DataFrame, users: pd.DataFrame | None
) -> list[Reduction]:
    """Every reduction that is made by month, with all that it depends on."""
    zone, night = settings.zone_info(), settings.night
    of: dict[str, Any] = {"start": night.start, "end": night.end, "zone": zone}
    search: dict[str, Any] = {"start": night.search_start, "end": night.search_end, "zone": zone}
    kinds = {kind: quality[quality["kind"] == kind] for kind in ("pressure", "acoustic")}
    said = {kind: marked(found[["device_id", "kind"]]) for kind, found in kinds.items()}
    edges = edges_by_step(quality, boundaries)
    lowest = marked(search, edges)
    wanted = [
        Reduction(NIGHT_FLOWS, marked(of), lambda c, d, _: night_flows(c, dates=d, **of)),
        Reduction(
            NIGHT_MINIMA,
            lowest,
            lambda c, d, _: night_minima(c, quality, boundaries, dates=d, **search),
        ),
        Reduction(DAILY_VOLUMES, "", lambda c, d, _: daily_volumes(c, dates=d, zone=zone)),
        Reduction(
            HOURLY_PRESSURES,
            said["pressure"],
            lambda c, d, _: hourly_pressures(c, kinds["pressure"], dates=d, zone=zone),
        ),
        Reduction(
            ACOUSTIC_NIGHTS,
            marked(of, said["acoustic"]),
            lambda c, d, _: acoustic_nights(c, kinds["acoustic"], dates=d, **of),
        ),
    ]
    if night.window == "rolling":
        inside = None if users is None else users[["device_id", "cell_id"]]
        wanted.append(
            Reduction(
                LOWEST_HOURS,
                marked(lowest, sides(boundaries), inside),
                lambda c, _, done: lowest_hours(
                    c, from_arrow([done[NIGHT_MINIMA.name]], NIGHT_MINIMA), boundaries, users
                ),
            )
        )
    return wanted
