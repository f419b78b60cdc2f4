"""Flow in the hours when nobody is there, by the settings: what the meter should not show."""

from __future__ import annotations

import numpy as np
import pandas as pd

from district.detect.unbroken import each

WINDOW_DAYS = 28
_RUN_DAYS = 14
LEAST_H = 2.0
"""Empty time of a day worth using; a two-hour test without use is what the US EPA advises people
to make (catalogued as seen: EPA, nepis P100YTRV)."""
_LEAST_WINDOWS = 3
_LEAST_STEPS = 3
_PIECES = 2
"""Empty hours of a local day lie at most at its two ends: each may miss a step."""
_OUTLIER_SHARE = 0.1
"""Of the days, so many may lack the flow: a valve was shut (common practice, no source)."""
_ALIKE = 1.25
"""A leak varies so far with the pressure (common practice, no source)."""
_NO_FLOW_L = 1e-4
_Z = 1.96


def in_empty_hours(still: pd.DataFrame, own: pd.DataFrame) -> pd.DataFrame:
    """Flow of each meter while nobody is there, indexed by device.

    `still` is table STILL_DAYS; `own` by device: last, step_l, rate_step_l_s, error_share. From
    the days of the last 28 with two such hours or more: those in a row up to the last with flow,
    if three or more, 14 at most; else all.

    On no day can a constant flow pass more than the register showed and the steps it may owe;
    days that show more had use, and are set aside. The rest give the mean. Its limits: counts of
    a flow's steps in a window differ by one at most, so their deviation is half a step, by window
    and piece; beside it the scatter of the days and the meter's error. Columns constant_l_s with
    limits, since (NaT unless the days stand in a row), since_known, days_count, empty_h, in_a_row.
    """
    rows = still[(still["empty_h"] >= LEAST_H) & still["device_id"].isin(own.index)]
    rows = rows.sort_values(["device_id", "day"], ignore_index=True)
    steps = {name: each(rows, own[name]).fillna(0.0) for name in ("step_l", "rate_step_l_s")}
    rows = rows.assign(volume_l=rows["empty_l_s"] * rows["empty_h"] * 3600.0, **steps)
    device = rows["device_id"]
    least_l = np.maximum(rows["step_l"], rows["rate_step_l_s"] * rows["empty_h"] * 3600.0) / 2
    dry = (rows["volume_l"] < np.maximum(least_l, _NO_FLOW_L)).astype(int)
    in_row = dry[::-1].groupby(device[::-1]).cumsum()[::-1] == 0
    running = in_row.groupby(device).transform("sum") >= _LEAST_WINDOWS
    recent = rows["day"] > each(rows, own["last"]) - pd.Timedelta(days=WINDOW_DAYS)
    left = rows.groupby("device_id").cumcount(ascending=False)
    found = _estimated(rows[recent & (~running | (in_row & (left < _RUN_DAYS)))], own)
    begun = rows[running & in_row].groupby("device_id")["day"].min()
    return found.assign(
        since=begun.reindex(found.index),
        since_known=~in_row.groupby(device).all().reindex(found.index).astype(bool),
        in_a_row=running.groupby(device).any().reindex(found.index).astype(bool),
    )


def _estimated(rows: pd.DataFrame, own: pd.DataFrame) -> pd.DataFrame:
    device = rows["device_id"]
    owed_l = _PIECES * rows["step_l"]
    most = (rows["volume_l"] + owed_l) / (3600.0 * rows["empty_h"]) + rows["rate_step_l_s"] / 2
    ordered = most.groupby(device).rank(method="first")
    place = np.floor(_OUTLIER_SHARE * most.groupby(device).transform("size")) + 1
    cap = most[ordered == place].groupby(device).first()
    kept = rows[rows["empty_l_s"] <= _ALIKE * each(rows, cap)]
    groups = kept.groupby("device_id")
    time_s, volume_l = groups["empty_h"].sum() * 3600.0, groups["volume_l"].sum()
    count = groups.size()
    mean = volume_l / time_s
    known = own.loc[mean.index]
    step_l = known["step_l"].fillna(0.0)
    by_steps = step_l / 2 * np.sqrt(_PIECES * count) / time_s
    by_days = groups["empty_l_s"].std().fillna(0.0) / np.sqrt(count)
    half = _Z * np.maximum(by_steps, by_days) + known["rate_step_l_s"].fillna(0.0) / 2
    half += known["error_share"] * mean
    steps = np.where(step_l > 0, volume_l / step_l.where(step_l > 0), np.inf)
    return pd.DataFrame(
        {
            "constant_l_s": mean,
            "constant_l_s_low": (mean - half).clip(lower=0.0),
            "constant_l_s_high": mean + half,
            "enough": np.asarray(steps >= _LEAST_STEPS) & (volume_l > 0).to_numpy(),
            "days_count": count.astype(float),
            "empty_h": time_s / 3600.0,
        }
    )
