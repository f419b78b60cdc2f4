"""Two readings of a register, before and after a time when the premises stood empty."""

from __future__ import annotations

import math

import numpy as np
import pandas as pd

_TWO_CUTS = 1.96 / math.sqrt(6.0)
"""95 % limit, in steps, of the difference of two readings each cut to a step: triangular."""
_INSIDE_SHARE = 0.5
"""Readings within the empty time are enough if they span so much of it (no source)."""
_PEAK = 3.0
"""Use before and after it, over the meter's usual mean (common practice, no source)."""


def between_readings(periods: pd.DataFrame, own: pd.DataFrame, *, timezone: str) -> pd.DataFrame:
    """Flow through each meter in the last recorded time of emptiness that was read, by device.

    `periods` is table EMPTY_PERIODS, `own` by device: step_l, rate_step_l_s, error_share. From
    the readings within that time where these span half of it, else from those around it: then
    what may have been used outside it, up to three times the usual mean, is in the lower limit.
    Both readings' steps and the meter's error are in the limits. Columns constant_l_s with
    limits, first and last (local dates of the time), read_h.
    """
    rows = periods[periods["device_id"].isin(own.index)].copy()
    empty_h = (rows["end_utc"] - rows["start_utc"]) / pd.Timedelta(hours=1)
    inside = rows["inside_h"] >= _INSIDE_SHARE * empty_h
    rows = rows.assign(
        read_h=np.where(inside, rows["inside_h"], rows["over_h"]),
        volume_l=np.where(inside, rows["inside_m3"], rows["over_m3"]) * 1000.0,
        # Of a meter never read otherwise nothing is usual: all of it may be use.
        use_l=np.where(
            inside | (rows["over_h"] <= empty_h),
            0.0,
            _PEAK
            * rows["usual_m3_h"].clip(lower=0).fillna(np.inf)
            * 1000.0
            * (rows["over_h"] - empty_h),
        ),
    )
    rows = rows[rows["read_h"] > 0].sort_values(["device_id", "end_utc"])
    rows = rows.drop_duplicates("device_id", keep="last").set_index("device_id")
    known = own.loc[rows.index]
    time_s = rows["read_h"] * 3600.0
    volume_l = rows["volume_l"].clip(lower=0.0)
    slack_l = _TWO_CUTS * known["step_l"].fillna(0.0) + known["error_share"] * volume_l
    slack_l += known["rate_step_l_s"].fillna(0.0) / 2 * time_s
    low_l = (volume_l - slack_l - rows["use_l"]).clip(lower=0.0)
    local = {
        name: rows[f"{end}_utc"].dt.tz_convert(timezone).dt.tz_localize(None).dt.normalize()
        for name, end in (("first", "start"), ("last", "end"))
    }
    return pd.DataFrame(
        {
            "constant_l_s": volume_l / time_s,
            "constant_l_s_low": low_l / time_s,
            "constant_l_s_high": (volume_l + slack_l) / time_s,
            "read_h": rows["read_h"],
            **local,
        }
    )
