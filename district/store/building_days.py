"""What the store knows of buildings' meters: hours in which they stood still, and empty times."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from functools import partial
from pathlib import Path
from typing import Any
from zoneinfo import ZoneInfo

import duckdb
import pandas as pd
import pyarrow as pa

from district.schema.columns import empty
from district.schema.stored import INTERVALS, STILL_DAYS
from district.settings import EmptyHours
from district.store.by_month import Reduction, by_month, marked, none_kept
from district.store.database import as_declared, opened, span_us
from district.store.empty_periods import empty_periods
from district.store.keep import damaged, load_quality
from district.store.manifest import read_manifest
from district.store.still_days import still_days
from district.store.windows import local_dates

RECENT_DAYS = 90
"""Days that are looked at of every meter; further back only of those that need it."""
_SILENT_DAYS = 14
MADE_ANEW = 2
"""Stretches of the days further back that one run makes anew, once they were kept."""


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
        quality = load_quality(place)
        told = partial(still_days, quality=quality, zone=zone, empty_hours=empty_hours)
        own_works = works[works["place_id"].isin(meters["device_id"])]
        with opened(place) as connection:
            span = span_us(connection, INTERVALS)
            if not span or meters.empty:
                return empty(STILL_DAYS), empty_periods(connection, own_works)
            since = local_dates(*span, zone)[-RECENT_DAYS:][0]
            # A step as the layer states it is in no reading, so the key must tell it.
            step_m3 = meters["device_id"].map(quality.set_index("device_id")["resolution_m3"])
            own = meters[["device_id", "building_id"]].assign(step_m3=step_m3)
            kept = partial(_kept, place, partial(told, meters=meters), marked(own, *empty_hours))
            first = none_kept(place, STILL_DAYS)
            made = kept(zone, since=since)
            recent = made[made["day"] >= since].reset_index(drop=True)
            far = meters[meters["device_id"].isin(_further_back(recent))]
            if len(far):
                # What was kept while it was recent need not be read again, the rest is, for these.
                # A first run keeps all of it; where a setting or a meter's step changed since, a
                # morning makes some of it anew, so that none is held up by all.
                older = kept(
                    zone,
                    until=since,
                    most_made=None if first else MADE_ANEW,
                    among=far["device_id"].tolist(),
                )
                # The stretch in which the recent days begin was made whole.
                begun = made[made["day"] < since]
                dates = local_dates(*span, zone)
                dates = dates[(dates < since) & ~dates.isin(older["day"])]
                dates = dates[~dates.isin(begun["day"])]
                rest = told(connection, meters=far, days=dates)
                begun = begun[begun["device_id"].isin(far["device_id"])]
                parts = [p for p in (rest, older, begun, recent) if len(p)]
                recent = as_declared(pd.concat(parts, ignore_index=True), STILL_DAYS)
            return recent, empty_periods(connection, own_works)
    except (OSError, pa.ArrowException, duckdb.Error) as reason:
        raise damaged(place) from reason


def _kept(
    place: Path,
    told: Callable[..., pd.DataFrame],
    said: str,
    zone: ZoneInfo,
    **some: Any,
) -> pd.DataFrame:
    """STILL_DAYS made by `told` and kept by stretches of dates; of `some` as `by_month` says."""
    manifest = read_manifest(place)
    if manifest is None:
        raise damaged(place)
    wanted = Reduction(STILL_DAYS, said, lambda connection, days, _: told(connection, days=days))
    return by_month(place, manifest, [wanted], zone=zone, **some)[STILL_DAYS.name]


def _further_back(recent: pd.DataFrame) -> pd.Index[str]:
    """Devices whose flow, or silence, has gone on for longer than the recent days tell."""
    groups = recent.groupby("device_id")
    flowing = groups["still_count"].sum() == 0
    moved = recent[recent["still_count"] < recent["hours_count"]]
    last, last_flow = groups["day"].max(), moved.groupby("device_id")["day"].max()
    silent = ~(last_flow.reindex(last.index) > last - pd.Timedelta(days=_SILENT_DAYS))
    return last.index[flowing | silent]
