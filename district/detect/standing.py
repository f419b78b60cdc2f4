"""How each building's meter stands on the last day it was read."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pandas as pd

from district.detect.meters_of import building_meters, steps_of
from district.detect.unbroken import each, last_rows, unbroken
from district.network import Network
from district.schema.stored import STILL_DAYS

JUDGED_DAYS = 28
SELDOM_DAYS = 400
"""Days that are looked at of a meter read less often than hourly."""
STALE_DAYS = 14
"""A meter whose readings end so long before the others' is not judged by them (no source)."""
_NO_FLOW_M3 = 1e-7
_STILL = ("still_count", "longest_still_h", "still_first_h", "still_last_h")


@dataclass(frozen=True, eq=False)
class Standing:
    """Meters of buildings and customers with readings, and their days, a meter by its number.

    That number stands as `device_id` in all four: a number is found and grouped by many times
    faster than a text.
    """

    rows: pd.DataFrame
    """Days as `unbroken` joins them, of meters read less often than hourly, too."""
    hourly: pd.DataFrame
    """Table STILL_DAYS."""
    periods: pd.DataFrame
    """Table EMPTY_PERIODS."""
    own: pd.DataFrame
    """Indexed by it: meter_id, role, building_id, cell_id, error_share, q1_l_s; its steps as
    `steps_of` gives them; run and idle hours on its last day; first, last, days_count, hours_count
    and spell_h (longest) of its last 28 days; daily, whether it is read less often than hourly;
    always, whether it has run since its first day read; stale, whether its readings end 14 days
    before the others'."""


def standing(
    still_days: pd.DataFrame,
    periods: pd.DataFrame,
    daily_volumes: pd.DataFrame,
    quality: pd.DataFrame,
    network: Network,
) -> Standing:
    """How the meters stand, from tables STILL_DAYS, EMPTY_PERIODS, DAILY_VOLUMES (of meters read
    less often than hourly, and of the last 400 days) and DEVICE_QUALITY."""
    meters = building_meters(network)
    ids = pd.Index(meters["device_id"])
    hourly, around = (numbered(frame, ids) for frame in (still_days, periods))
    often = np.isin(np.arange(len(ids)), hourly["device_id"])
    since = daily_volumes["day"].max() - pd.Timedelta(days=SELDOM_DAYS)
    # Few are read seldom: of a table of years no other row is touched.
    few = daily_volumes[daily_volumes["device_id"].isin(ids[~often])]
    seldom = numbered(few[few["day"] > since], ids)
    rows = unbroken(pd.concat([hourly, _by_day(seldom)], ignore_index=True))
    own = _own(rows, hourly, meters, around, numbered(quality, ids))
    return Standing(rows, hourly, around, own.assign(daily=~often[own.index]))


def numbered(frame: pd.DataFrame, ids: pd.Index[str]) -> pd.DataFrame:
    """The rows of a table about devices among `ids`, each device by its position there."""
    code, names = pd.factorize(frame["device_id"])
    number = ids.get_indexer(pd.Index(names, dtype=ids.dtype))[code] if len(frame) else code
    own = number >= 0
    return frame[own].assign(device_id=number[own].astype(np.int64))


def _by_day(volumes: pd.DataFrame) -> pd.DataFrame:
    """Days on which meters read less often than hourly showed nothing, as rows of STILL_DAYS.

    Of their other days nothing is known but that some water passed.
    """
    mine = volumes[volumes["coverage_share"] >= 0.99]
    nothing = mine["gross_m3"].to_numpy(dtype=float) < _NO_FLOW_M3
    hours = np.where(nothing, 24.0, 0.0)
    rows = pd.DataFrame(0.0, index=range(len(mine)), columns=list(STILL_DAYS.names()))
    return rows.assign(
        device_id=mine["device_id"].to_numpy(),
        day=pd.to_datetime(mine["day"]).to_numpy(),
        hours_count=24.0,
        lowest_l_s=np.nan,
        empty_l_s=np.nan,
        **dict.fromkeys(_STILL, hours),
    )


def _own(
    rows: pd.DataFrame,
    hourly: pd.DataFrame,
    meters: pd.DataFrame,
    periods: pd.DataFrame,
    quality: pd.DataFrame,
) -> pd.DataFrame:
    """One row a meter with readings: what is known of it, and how it stands on its last day."""
    known = meters.reset_index(drop=True).rename(columns={"device_id": "meter_id"})
    last_day = hourly.groupby("device_id")["day"].max()
    read = known.index.intersection(
        pd.Index(rows["device_id"]).union(last_day.index).union(pd.Index(periods["device_id"]))
    )
    names = ["run_h", "run_since", "run_known", "idle_h", "idle_since", "idle_known", "day"]
    lasts = last_rows(rows)[names].reindex(read)
    own = known.loc[read].join(steps_of(read, quality)).join(lasts)
    own["last"] = own.pop("day").fillna(last_day.reindex(read))
    judged = rows["day"] > each(rows, own["last"]) - pd.Timedelta(days=JUDGED_DAYS)
    groups = rows[judged].groupby("device_id")
    own = own.assign(
        first=groups["day"].min(),
        days_count=groups.size(),
        hours_count=groups["hours_count"].sum(),
        spell_h=groups["spell_h"].max(),
    )
    zeros = ["days_count", "hours_count", "spell_h", "run_h", "idle_h"]
    own[zeros] = own[zeros].fillna(0.0)
    flags = ["run_known", "idle_known"]
    own[flags] = own[flags].fillna(False).astype(bool)
    newest = own["last"].max()
    begun = rows.groupby("device_id")["day"].min().reindex(read)
    return own.assign(
        always=own["run_since"] == begun, stale=own["last"] < newest - pd.Timedelta(days=STALE_DAYS)
    )
