"""Hourly series of building meters as tables STILL_DAYS and DEVICE_QUALITY, typed by hand."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

import geopandas as gpd
import numpy as np
import pandas as pd
from shapely.geometry import Point

from district.detect import check_buildings
from district.network import Network
from district.schema import empty
from district.schema.columns import check
from district.schema.event_tables import BUILDING_CHECKS
from district.schema.inputs import WORKS
from district.schema.outputs import EVENTS
from district.schema.stored import DAILY_VOLUMES, DEVICE_QUALITY, EMPTY_PERIODS
from district.settings import Settings

FIRST = "2025-03-03"
"""A Monday."""
Array = np.ndarray[Any, Any]


def day_row(litres: Array, *, empty: Array | None = None) -> dict[str, float]:
    """One day of table STILL_DAYS from litres an hour, NaN where not read."""
    read, still = np.isfinite(litres), litres == 0
    marks = "".join("s" if s else "-" for s in still)
    last = max((h for h in range(len(litres)) if still[h]), default=-1)
    end = len(marks) if not read.any() else int(np.flatnonzero(read)[-1]) + 1
    quiet = read & (np.zeros(len(litres), bool) if empty is None else empty)
    return {
        "hours_count": read.sum(),
        "still_count": still.sum(),
        "lowest_l_s": np.nanmin(litres) / 3600 if read.any() else np.nan,
        "longest_still_h": max(map(len, marks.split("-"))),
        "still_first_h": len(marks) - len(marks.lstrip("s")),
        "still_last_h": end - len(marks[:end].rstrip("s")),
        "flow_last_h": read[last + 1 :].sum(),
        "stuck_h": 0.0,
        "empty_l_s": litres[quiet].mean() / 3600 if quiet.any() else np.nan,
        "empty_h": quiet.sum(),
    }


def still_of(
    series: Mapping[str, Sequence[float] | Array], *, empty: Array | None = None
) -> pd.DataFrame:
    """Table STILL_DAYS from litres an hour from Monday midnight on; `empty` marks hours alike."""
    rows = []
    for device, litres in series.items():
        hours = np.asarray(litres, dtype=float)
        for number, start in enumerate(range(0, len(hours), 24)):
            day = slice(start, start + 24)
            row = day_row(hours[day], empty=None if empty is None else empty[day])
            date = pd.Timestamp(FIRST) + pd.Timedelta(days=number)
            rows.append({"device_id": device, "day": date, **row})
    return pd.DataFrame(rows).astype({c: float for c in rows[0] if c not in ("device_id", "day")})


def registered(litres: Array, step_l: float, *, offset_l: float = 0.0) -> Array:
    """What a register that moves in whole steps shows of true hourly volumes."""
    total = np.concatenate([[0.0], np.cumsum(litres)]) + offset_l
    return np.diff(np.floor(total / step_l + 1e-9) * step_l)


def quality_of(
    *ids: str, step_l: float = 1.0, kind: str = "register", step_h: float = 1.0
) -> pd.DataFrame:
    frame = pd.DataFrame({"device_id": list(ids)}, columns=list(DEVICE_QUALITY.names()))
    return frame.assign(kind=kind, step_h=step_h, resolution_m3=step_l / 1000)


def network_of(buildings: Mapping[str, str], **more: Any) -> Network:
    """A network with nothing but the meters of buildings: meter_id -> building_id."""
    ids, count = list(buildings), len(buildings)
    at = [Point(0, 0)] * count
    nothing = gpd.GeoDataFrame(geometry=[], crs=32630)
    meters = gpd.GeoDataFrame(
        {"role": "building", "cell_id": "V1", "error_percent": 2.0, **more},
        geometry=at, crs=32630, index=ids,
    )  # fmt: skip
    taps = gpd.GeoDataFrame(
        {"meter_id": ids, "building_id": list(buildings.values())}, geometry=at, crs=32630
    )
    return Network(
        nodes=nothing, pipes=nothing, cells=pd.DataFrame(), boundaries=pd.DataFrame(),
        connections=taps, valves=nothing, sensors=nothing, sources=nothing, meters=meters,
        zones=nothing,
    )  # fmt: skip


def checked(
    still: pd.DataFrame,
    quality: pd.DataFrame,
    *,
    network: Network | None = None,
    works: pd.DataFrame | None = None,
    periods: pd.DataFrame | None = None,
    volumes: pd.DataFrame | None = None,
    told: pd.DataFrame | None = None,
    **settings: Any,
) -> pd.DataFrame:
    """Table BUILDING_CHECKS by device, held against its declaration."""
    found = check_buildings(
        still,
        quality,
        network=network or network_of({d: f"of {d}" for d in quality["device_id"]}),
        works=empty(WORKS) if works is None else works,
        settings=Settings.model_validate({"costs": {"water_currency_m3": 2.0}, **settings}),
        periods=empty(EMPTY_PERIODS) if periods is None else periods,
        daily_volumes=empty(DAILY_VOLUMES) if volumes is None else volumes,
        events=empty(EVENTS) if told is None else told,
    )
    assert check(BUILDING_CHECKS, found, source="test")[1] == ()
    return found.set_index("device_id")


def household(days: int, seed: int, *, start: int = 7, end: int = 22) -> Array:
    """Litres an hour of people who draw at random between two hours, and not at night."""
    rng = np.random.default_rng(seed)
    hour = np.arange(24 * days) % 24
    awake = (hour >= start) & (hour < end)
    return np.where(awake, 6.0 * rng.poisson(1.2, 24 * days), 0.0)
