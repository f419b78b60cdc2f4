"""Pressures and flows of the compared days side by side, hour by hour, and the blocks of a day."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any

import numpy as np
import pandas as pd
from scipy.sparse import csr_array

from district.hydraulics.model import Reals, Wholes
from district.hydraulics.water import Demands
from district.locate.pressure_days import Windows

BLOCKS_COUNT = 4
"""Groups of hours of the day that are told apart, by how much the zone draws in them."""
_HOURS = 24


@dataclass(frozen=True, eq=False)
class Hours:
    """The hours compared: H of them, N nodes, G loggers.

    day (H)
        position of its day in `Windows.course`.
    hour (H)
        of the local day.
    drawn_l_s (H, N)
        what leaves at each node.
    use_l_s (H, C)
        of it, use of each of C cells that no meter reads by the hour.
    pressure_m (H, G)
        NaN where not read.
    block (24)
        block of each hour of the day, the hours of the lowest draw first.
    """

    day: Wholes
    hour: Wholes
    drawn_l_s: Reals
    use_l_s: Reals
    pressure_m: Reals
    block: Wholes


def known_days(demands: Demands, cell: int, pressures: pd.DataFrame) -> pd.DatetimeIndex:
    """Days with at least one hour of the cell's flow and one of a logger's pressure."""
    flow = pd.to_datetime(demands.hours["day"])[np.isfinite(demands.rest_l_s[:, cell])]
    return pd.DatetimeIndex(flow.unique()).intersection(
        pd.DatetimeIndex(pd.to_datetime(pressures["day"]).unique())
    )


def side_by_side(
    demands: Demands, cell: int, pressures: pd.DataFrame, logger_id: Any, compared: Windows
) -> Hours:
    """Hours of the compared days in which the cell's flow is known.

    Parameters: `cell` its position in `demands.cell_id`; `pressures` table HOURLY_PRESSURES;
    `logger_id` (G). Another cell's missing hour takes its mean at that hour of the day.
    """
    days = compared.before.append(compared.after)
    position = days.get_indexer(pd.DatetimeIndex(pd.to_datetime(demands.hours["day"])))
    rows = np.flatnonzero((position >= 0) & np.isfinite(demands.rest_l_s[:, cell]))
    own = replace(
        demands,
        hours=demands.hours.iloc[rows].reset_index(drop=True),
        rest_l_s=demands.rest_l_s[rows],
        measured_l_s=demands.measured_l_s[rows],
    )
    hour = own.hours["hour"].to_numpy(dtype=np.int64)
    usual = by_hour(own.rest_l_s, hour)
    own = replace(own, rest_l_s=np.where(np.isfinite(own.rest_l_s), own.rest_l_s, usual[hour]))
    table = pressures.assign(day=pd.to_datetime(pressures["day"]))
    wide = table.pivot_table(index=["day", "hour"], columns="device_id", values="pressure_m")
    at = pd.MultiIndex.from_arrays([pd.to_datetime(own.hours["day"]), hour])
    read = wide.reindex(index=at, columns=pd.Index(logger_id)).to_numpy(dtype=float)
    order = np.argsort(np.argsort(usual[:, cell], kind="stable"), kind="stable")
    block = order * BLOCKS_COUNT // _HOURS
    use = (own.rest_l_s - own.leakage_l_s).clip(min=0.0)
    return Hours(position[rows], hour, own.node_l_s(), use, read, block)


def by_hour(values: Reals, hour: Wholes) -> Reals:
    """Mean of the rows (H, ...) at each hour of the day (24, ...); NaN left out, 0 where none."""
    known = np.isfinite(values)
    total = _sums(np.where(known, values, 0.0), hour, _HOURS)
    count = _sums(known.astype(float), hour, _HOURS)
    return np.asarray(total / np.maximum(count, 1))


def by_block(values: Reals, hours: Hours) -> Reals:
    """Mean of values by the hour (H, ...) in each block of the day (B, ...)."""
    block = hours.block[hours.hour]
    return np.array([values[block == b].mean(axis=0) for b in range(BLOCKS_COUNT)])


def by_day_and_block(values: Reals, hours: Hours, days_count: int) -> Reals:
    """Means (days, blocks, G) of the rows (H, G); NaN where under half of a block was read."""
    cell = hours.day * BLOCKS_COUNT + hours.block[hours.hour]
    known = np.isfinite(values)
    total = _sums(np.where(known, values, 0.0), cell, days_count * BLOCKS_COUNT)
    count = _sums(known.astype(float), cell, days_count * BLOCKS_COUNT)
    full = np.bincount(hours.block, minlength=BLOCKS_COUNT)
    enough = count >= np.tile(full, days_count)[:, None] / 2
    mean = np.where(enough, total / np.maximum(count, 1), np.nan)
    return np.asarray(mean.reshape(days_count, BLOCKS_COUNT, values.shape[1]))


def _sums(values: Reals, group: Wholes, count: int) -> Reals:
    """Sums of the rows of each of `count` groups."""
    rows = np.arange(len(group))
    member = csr_array((np.ones(len(group)), (group, rows)), shape=(count, len(group)))
    return np.asarray(member @ values)
