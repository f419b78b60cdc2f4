"""Hourly readings laid out as hours by devices."""

from __future__ import annotations

from collections.abc import Collection
from datetime import date
from typing import Any

import numpy as np
import pandas as pd

from district.hydraulics.model import Reals, Wholes


def hours_of(
    hourly: pd.DataFrame, *, devices: pd.Index[Any], days: Collection[date] | None = None
) -> pd.DataFrame:
    """The hours these devices have readings of, in order: day, hour.

    `hourly` is table HOURLY_FLOWS or HOURLY_PRESSURES; `days` keeps only these local dates.
    """
    own = hourly[hourly["device_id"].isin(devices)]
    if days is not None:
        own = own[pd.to_datetime(own["day"]).isin(pd.to_datetime(list(days)))]
    found = own[["day", "hour"]].drop_duplicates().sort_values(["day", "hour"])
    return found.reset_index(drop=True)


def laid_out(
    hourly: pd.DataFrame, *, value: str, devices: pd.Index[Any], hours: pd.DataFrame
) -> Reals:
    """Column `value` as hours x devices, NaN where there is no row."""
    row = pd.MultiIndex.from_frame(_keys(hours)).get_indexer(
        pd.MultiIndex.from_frame(_keys(hourly))
    )
    column = devices.get_indexer(pd.Index(hourly["device_id"]))
    table = np.full((len(hours), len(devices)), np.nan)
    kept = (row >= 0) & (column >= 0)
    table[row[kept], column[kept]] = hourly[value].to_numpy(dtype=float)[kept]
    return table


def filled_by_hour(values: Reals, hour: Wholes) -> Reals:
    """Missing values as the column's mean at that hour of the day, else as its mean.

    A column without any value stays NaN.
    """
    if not np.isnan(values).any():
        return values
    filled = values.copy()
    for h in np.unique(hour):
        filled[hour == h] = _with(filled[hour == h], _mean(values[hour == h]))
    return _with(filled, _mean(values))


def _with(values: Reals, instead: Reals) -> Reals:
    return np.asarray(np.where(np.isnan(values), instead, values))


def _mean(values: Reals) -> Reals:
    known = np.isfinite(values)
    count = known.sum(axis=0)
    total = np.where(known, values, 0.0).sum(axis=0)
    bare = np.full(values.shape[1], np.nan)
    return np.asarray(np.divide(total, count, out=bare, where=count > 0))


def _keys(table: pd.DataFrame) -> pd.DataFrame:
    return pd.DataFrame(
        {"day": pd.to_datetime(table["day"]), "hour": table["hour"].astype(np.int64)}
    )
