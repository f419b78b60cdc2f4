"""The water of each zone and day."""

from __future__ import annotations

from typing import Any

import numpy as np
import pandas as pd

from district.balance.grids import days_of, long, wide
from district.balance.metering import Metering, metering
from district.balance.volumes import Volumes
from district.estimates import Array
from district.network import Network
from district.units import M3_PER_L_S_H

REACH_DAYS = 7
"""A day takes its leakage from the nearest measured night this near, else has none."""


def daily_balance(
    network: Network,
    volumes: Volumes,
    *,
    nights: pd.DataFrame,
    pressures: pd.DataFrame,
    layout: Metering | None = None,
) -> pd.DataFrame:
    """Inflow = consumption + losses + residual for each balanced cell and day (table DAYS).

    `layout` is that of the network, made here if not given.

    Parameters: `volumes` from `daily_volumes`; `nights` (table NIGHTS); `pressures` from
    `zone_pressures`, covering the days. Losses are the leakage of the nearest measured night
    without recorded works within 7 days times the day's night-to-day factor; the residual is
    the difference. Volumes in m3, empty where not known.
    """
    cells = (layout or metering(network)).cells
    flow = nearest_leakage_l_s(nights, cells=cells, days=volumes.days)
    on = days_of(pressures["day"]).isin(volumes.days)
    factor = wide(pressures[on], "night_day_factor_h_d", cells)
    losses = flow * factor * M3_PER_L_S_H
    consumption = volumes.consumption_m3()
    return long(
        cells,
        volumes.days,
        day="day",
        columns={
            "inflow_m3": volumes.inflow_m3,
            "consumption_m3": consumption,
            "losses_m3": losses,
            "residual_m3": volumes.inflow_m3 - consumption - losses,
        },
    )


def nearest_leakage_l_s(
    nights: pd.DataFrame, *, cells: pd.Index[Any], days: pd.DatetimeIndex
) -> Array:
    """Night leakage of the nearest usable night within 7 days, days x cells; NaN if none.

    Of two nights equally near, the earlier is taken.
    """
    usable = nights[(nights["status"] == "measured") & (nights["works"] == "")]
    known = days_of(usable["night"])
    whole = days.union(known.unique())
    flow = np.full((len(whole), len(cells)), np.nan)
    flow[whole.get_indexer(known), cells.get_indexer(usable["cell_id"])] = usable["leakage_l_s"]
    number = pd.DataFrame(np.where(np.isnan(flow), np.nan, np.arange(len(whole))[:, None]))
    at = np.arange(len(whole))[:, None]
    before, later = (f.to_numpy(dtype=float) for f in (number.ffill(), number.bfill()))
    # The union may have holes: distances are in days, not in rows.
    day = (whole.to_numpy() - np.datetime64("1970-01-01")) / np.timedelta64(1, "D")

    def away(rows: Array) -> Array:
        return np.where(
            np.isnan(rows), np.inf, abs(day[at] - day[np.nan_to_num(rows).astype(np.int64)])
        )

    back, ahead = away(before), away(later)
    take = np.nan_to_num(np.where(back <= ahead, before, later)).astype(np.int64)
    nearest = np.take_along_axis(flow, take, axis=0) if flow.size else flow
    nearest = np.where(np.minimum(back, ahead) <= REACH_DAYS, nearest, np.nan)
    return np.asarray(nearest[whole.get_indexer(days)])
