"""Flow that never stops: by hours never zero, and by the regular steps of a coarse register."""

from __future__ import annotations

import numpy as np
import pandas as pd

from district.detect.unbroken import each

SIZE_DAYS = 14
"""Days of the present run from which its size is taken."""
LONE_DAYS = 14
_LEAST_LONE_DAYS = 10
LONGEST_LONE_H = 6
"""Steps further apart than this could be a household's night (common practice, no source)."""
_WANDER_H = 2
"""By so much the first hour with flow differs from day to day, or more."""
_MOST_OF_DAY_H = 20
_HABIT_DAYS = 56
_HABIT_COUNT = 3
_HABIT_SHARE = 0.8
"""A run as long as three before it, all ended, is use by habit: a shift, a long working week
(common practice, no source)."""
_STEADY = 1.5


def never_zero(rows: pd.DataFrame, own: pd.DataFrame, *, never_zero_h: float) -> pd.DataFrame:
    """The flow of meters whose every hour read lately had some, indexed by device.

    `rows` as `unbroken` gives them; `own` by device: run_h and run_since at its last day, step_l,
    rate_step_l_s, error_share. Columns constant_l_s with limits, steady. Above zero in every hour
    of 24 h is common practice, no source; the lowest hourly flow above zero over 48 h: Britton,
    Stewart & O'Halloran 2013, from memory.

    A constant flow makes a register move, in the lowest hour of a day, by less than a step below
    its volume and no more: the middle of these is taken, from the median day; the lower limit is
    the lowest hour of all. Meter error widens both.
    """
    running = own[own["run_h"] >= never_zero_h]
    mine = rows[rows["device_id"].isin(running.index) & (rows["still_count"] == 0)]
    ends = each(mine, own["last"])
    recent = (mine["day"] >= each(mine, own["run_since"])) & (
        mine["day"] > ends - pd.Timedelta(days=SIZE_DAYS)
    )
    low = mine[recent].groupby("device_id")["lowest_l_s"]
    least, middle, most = low.min(), low.median(), low.max()
    known = own.loc[least.index]
    step = known["step_l"].fillna(0.0) / 3600.0
    half_rate = known["rate_step_l_s"].fillna(0.0) / 2.0
    return pd.DataFrame(
        {
            "constant_l_s": middle + step / 2,
            "constant_l_s_low": (least * (1 - known["error_share"]) - half_rate).clip(lower=0.0),
            "constant_l_s_high": (middle + step) * (1 + known["error_share"]) + half_rate,
            "steady": most <= _STEADY * least + 2 * step + 2 * half_rate,
        }
    )


def by_habit(rows: pd.DataFrame, own: pd.DataFrame) -> pd.Index[str]:
    """Devices whose present run is no longer than three or more that ended by themselves lately.

    `own` by device: run_h, run_since. People who work five days and nights a week make such runs.
    """
    ended_h = rows["run_h"].shift()
    ended = rows["still_count"].gt(0) & rows["device_id"].eq(rows["device_id"].shift())
    past = rows.loc[ended, ["device_id", "day"]].assign(ended_h=ended_h[ended])
    since = each(past, own["run_since"])
    lately = (past["day"] <= since) & (past["day"] > since - pd.Timedelta(days=_HABIT_DAYS))
    alike = past["ended_h"] >= _HABIT_SHARE * each(past, own["run_h"])
    counts = past[lately & alike].groupby("device_id").size()
    return counts.index[counts >= _HABIT_COUNT]


def lone_steps(rows: pd.DataFrame, own: pd.DataFrame) -> pd.DataFrame:
    """The flow of meters whose register moves by lone steps, evenly spaced, indexed by device.

    A flow of less than a step an hour leaves hours without any, yet none of its pauses is longer
    than a step takes. Where the longest pause of each of the last 14 days (10 at least) is the
    same to an hour, and 6 h at most, steps come so far apart: pauses of n whole hours mean more
    than n and less than n + 2 h from step to step, whatever their phase. Use makes pauses of any
    length, but for people who keep the same hours every night: then the pauses come at the same
    hours too, while those between steps wander through the day unless their distance divides it.
    Columns constant_l_s with limits.
    """
    ends = each(rows, own["last"])
    lately = rows["day"] > ends - pd.Timedelta(days=LONE_DAYS)
    whole = lately & (rows["hours_count"] >= _MOST_OF_DAY_H)
    full = rows.loc[whole, ["device_id", "spell_h", "still_first_h"]]
    pause = full.groupby("device_id")["spell_h"].agg(["min", "max", "size"])
    morning = full.groupby("device_id")["still_first_h"].agg(["min", "max"])
    wander = morning["max"] - morning["min"] >= np.minimum(pause["min"] - 1, _WANDER_H).clip(
        lower=1
    )
    even = pause[
        wander
        & (pause["max"] - pause["min"] <= 1)
        & (pause["min"] >= 1)
        & (pause["max"] <= LONGEST_LONE_H)
        & (pause["size"] >= _LEAST_LONE_DAYS)
    ]
    known = own.loc[even.index]
    step = (known["step_l"] / 3600.0).where(known["step_l"] > 0)
    found = pd.DataFrame(
        {
            "constant_l_s": step / (even["max"] + 1),
            "constant_l_s_low": step / (even["max"] + 2) * (1 - known["error_share"]),
            "constant_l_s_high": step / even["max"] * (1 + known["error_share"]),
        }
    )
    return found.dropna()


def hidden_l_s(spell_h: pd.Series, own: pd.DataFrame) -> pd.Series:
    """The largest constant flow that could hide in a spell without flow of so many hours.

    A register with steps of w litres would have moved once in w/q, whenever it moved before.
    NaN where no spell was seen or no step is known.
    """
    by_volume = own["step_l"] / (3600.0 * spell_h.where(spell_h > 0))
    return (by_volume + own["rate_step_l_s"] / 2.0) * (1 + own["error_share"])


def shown_l_s(hours: pd.Series, own: pd.DataFrame) -> pd.Series:
    """The least constant flow that the meter shows for certain over so many hours."""
    return own["step_l"] / (3600.0 * np.maximum(hours, 1.0)) + own["rate_step_l_s"]
