"""The day in a few states of flow: mean draw at every node, mean head at every logger."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass, replace
from datetime import date

import numpy as np
import pandas as pd

from district.hydraulics.flow_table import filled_by_hour, laid_out
from district.hydraulics.model import Reals, Wholes
from district.hydraulics.water import Demands, Drawn


@dataclass(frozen=True, eq=False)
class DayStates:
    """S states: hours of the day with about the same flow, over all days.

    demand_l_s (S, N), use_l_s (S, C)
        all that leaves each node; of it, each cell's use that is spread.
    head_m (S, G)
        pressure read plus the gauge's level (that of the ground where it is not told); NaN where
        a logger has no hour.
    hours_count (S, G)
    """

    demand_l_s: Reals
    use_l_s: Reals
    head_m: Reals
    hours_count: Wholes


def day_states(
    drawn: Drawn,
    demands: Demands,
    hourly_pressures: pd.DataFrame,
    *,
    states_count: int,
    days: Collection[date] | None = None,
) -> DayStates:
    """Group the hours of the day by the whole network's flow, and take means over the days.

    A cell's missing hour is its usual at that hour of the day. `days` keeps only these local
    dates; a logger counts where it has the same hour as the demands.
    """
    kept = np.ones(len(demands.hours), dtype=bool)
    if days is not None:
        on = pd.to_datetime(demands.hours["day"]).isin(pd.to_datetime(list(days)))
        kept = on.to_numpy(dtype=bool)
    hours = demands.hours[kept].reset_index(drop=True)
    hour = hours["hour"].to_numpy(dtype=np.int64)
    rest = np.nan_to_num(filled_by_hour(demands.rest_l_s[kept], hour))
    measured = demands.measured_l_s[kept]
    state = _grouped(rest.sum(axis=1) + measured.sum(axis=1), hour, states_count)
    count = int(state.max(initial=-1)) + 1
    mean = replace(
        demands,
        hours=pd.DataFrame({"state": np.arange(count)}),
        rest_l_s=_means(rest, state, count),
        measured_l_s=_means(measured, state, count),
    )
    level = drawn.watch @ drawn.model.elevation_m
    level = np.where(np.isnan(drawn.logger_level_m), level, drawn.logger_level_m)
    read = laid_out(
        hourly_pressures,
        value="pressure_m",
        devices=pd.Index(drawn.logger_id, dtype=object),
        hours=hours,
    )
    known = np.isfinite(read)
    number = _sums(known.astype(float), state, count)
    total = _sums(np.where(known, read, 0.0), state, count)
    head = np.divide(total, number, out=np.full(total.shape, np.nan), where=number > 0)
    leak = np.minimum(demands.leakage_l_s, mean.rest_l_s.clip(min=0.0))
    return DayStates(
        demand_l_s=mean.node_l_s(),
        use_l_s=mean.rest_l_s - leak,
        head_m=head + level,
        hours_count=number.astype(np.int64),
    )


def _grouped(flow_l_s: Reals, hour: Wholes, count: int) -> Wholes:
    """The state of each row, from least flow to most; hours of the day keep together."""
    found, row = np.unique(hour, return_inverse=True)
    if not len(found):
        return np.zeros(0, dtype=np.int64)
    mean = np.bincount(row, flow_l_s) / np.bincount(row)
    rank = np.empty(len(found), dtype=np.int64)
    rank[np.argsort(mean, kind="stable")] = np.arange(len(found))
    return np.asarray((rank * min(count, len(found)) // len(found))[row])


def _sums(values: Reals, state: Wholes, count: int) -> Reals:
    total = np.zeros((count, values.shape[1]))
    np.add.at(total, state, values)
    return total


def _means(values: Reals, state: Wholes, count: int) -> Reals:
    return _sums(values, state, count) / np.bincount(state, minlength=count)[:, None]
