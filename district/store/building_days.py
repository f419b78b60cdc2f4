"""What the store knows of buildings' meters: hours in which they stood still, and empty times."""

from __future__ import annotations

from collections.abc import Sequence
from functools import partial
from pathlib import Path
from zoneinfo import ZoneInfo

import duckdb
import pandas as pd
import pyarrow as pa

from district.schema.columns import empty
from district.schema.stored import INTERVALS, STILL_DAYS
from district.settings import EmptyHours
from district.store.by_month import Reduction, by_month, marked
from district.store.database import opened, span_us
from district.store.empty_periods import empty_periods
from district.store.keep import damaged, load_quality
from district.store.manifest import read_manifest
from district.store.still_days import still_days
from district.store.windows import local_dates

RECENT_DAYS = 90
"""Days that are looked at of every meter; further back only of those that need it."""
_SILENT_DAYS = 14
_STEP = ["device_id", "resolution_m3"]
"""All that a day rests on of what is known of its meter's readings."""


def building_days(
    place: Path,
    meters: pd.DataFrame,
    works: pd.DataFrame,
    *,
    zone: ZoneInfo,
    empty_hours: Sequence[EmptyHours] = (),
) -> tuple[pd.DataFrame, pd.DataFrame]:
    """Tables STILL_DAYS and EMPTY_PERIODS of `meters` (device_id, building_id), kept at `place`.

    `works` is the input table (UTC). Of each meter the last 90 local days of the store; all days
    of those that never stood still in these, and of those silent for the last 14, so that it can
    be told since when, and whether that is like them. Raises `StoreError` if
    what is kept is damaged.
    """
    try:
        manifest = read_manifest(place)
        if manifest is None:
            raise damaged(place)
        own_works = works[works["place_id"].isin(meters["device_id"])]
        with opened(place) as connection:
            span = span_us(connection, INTERVALS)
            periods = empty_periods(connection, own_works)
        if span is None or meters.empty:
            return empty(STILL_DAYS), periods
        kept = _kept(load_quality(place), meters, zone, empty_hours)
        told = partial(by_month, place, manifest, [kept], zone=zone)
        first = local_dates(*span, zone)[-RECENT_DAYS:][0]
        recent = told(since=first)[STILL_DAYS.name]
        recent = recent[recent["day"] >= first].reset_index(drop=True)
        far = _further_back(recent)
        if len(far):
            others = recent[~recent["device_id"].isin(far)]
            whole = told(devices=far)[STILL_DAYS.name]
            recent = pd.concat([others, whole], ignore_index=True)
            recent = recent.sort_values(list(STILL_DAYS.key), ignore_index=True)
        return recent, periods
    except (OSError, pa.ArrowException, duckdb.Error) as reason:
        raise damaged(place) from reason


def _kept(
    quality: pd.DataFrame,
    meters: pd.DataFrame,
    zone: ZoneInfo,
    empty_hours: Sequence[EmptyHours],
) -> Reduction:
    """Table STILL_DAYS of all `meters`, made a month at a time and kept."""
    named = meters[["device_id", "building_id"]]
    steps = quality.loc[quality["device_id"].isin(meters["device_id"]), _STEP]
    said = marked(named, steps.sort_values("device_id"), *empty_hours)
    return Reduction(
        STILL_DAYS,
        said,
        lambda connection, days, _: still_days(
            connection, quality, meters, zone=zone, empty_hours=empty_hours, days=days
        ),
    )


def _further_back(recent: pd.DataFrame) -> pd.Index[str]:
    """Devices whose flow, or silence, has gone on for longer than the recent days tell."""
    groups = recent.groupby("device_id")
    flowing = groups["still_count"].sum() == 0
    moved = recent[recent["still_count"] < recent["hours_count"]]
    last, last_flow = groups["day"].max(), moved.groupby("device_id")["day"].max()
    silent = ~(last_flow.reindex(last.index) > last - pd.Timedelta(days=_SILENT_DAYS))
    return last.index[flowing | silent]
