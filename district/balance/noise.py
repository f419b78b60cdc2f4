"""What differs from night to night though nothing changed: steps of meters, and scatter."""

from __future__ import annotations

from typing import Any

import numpy as np
import pandas as pd

from district.balance.grids import column_medians, text
from district.balance.limits import resolution_deviation_l_s, rounding_deviation_l_s
from district.estimates import Array
from district.schema.inputs import RATE_KINDS

LEAST_PAIRS = 14
"""Fewer pairs of neighbouring nights tell no scatter."""
SCATTER = 1.4826
"""Standard deviation over median absolute deviation, normal scatter."""
KEPT_VARIANCE = 0.9733
"""Variance of a standard normal variable cut at three deviations."""


def step_deviation_l_s(quality: pd.DataFrame, ids: pd.Index[Any], *, window_h: Array) -> Array:
    """Standard deviation that the smallest step of each device puts into a night's mean flow.

    Parameters: `quality` table DEVICE_QUALITY; `ids` devices; `window_h` nights x 1. A register
    or a count of pulses is cut twice, at the ends of the window; a rate is rounded at each of
    its readings. 0 where the step is not known. Returns nights x devices, L/s.
    """
    known = quality.assign(device_id=text(quality["device_id"])).drop_duplicates("device_id")
    known = known.set_index("device_id").reindex(ids)
    step = known["resolution_m3"].fillna(0.0).to_numpy(dtype=float)
    interval_h = known["step_h"].to_numpy(dtype=float)
    rate = known["kind"].isin(RATE_KINDS).to_numpy() & (interval_h > 0)
    return np.where(
        rate,
        rounding_deviation_l_s(step, step_h=np.where(rate, interval_h, 1.0), window_h=window_h),
        resolution_deviation_l_s(step, window_h=window_h),
    )


def night_scatter_l_s(flow_l_s: Array, *, usable: Any) -> Array:
    """Standard deviation of a night's flow about its neighbours', by zone, as the record shows it.

    Parameters: `flow_l_s` and `usable` nights x zones. From the differences of neighbouring
    nights, over the root of two, those further than three deviations out (first told by the
    median) set aside: neither steps nor slow growth nor odd nights count. What no component
    models is in it: repeatability of meters, larger draws than allowed for. 0 where fewer than
    14 pairs are known. Returns an array over the zones.
    """
    known = np.where(usable, flow_l_s, np.nan)
    apart = np.abs(np.diff(known, axis=0))
    enough = np.isfinite(apart).sum(axis=0) >= LEAST_PAIRS
    rough = SCATTER * column_medians(apart)
    inside = apart <= 3.0 * rough
    count = np.maximum(inside.sum(axis=0), 1)
    variance = (np.where(inside, apart, 0.0) ** 2).sum(axis=0) / count / KEPT_VARIANCE
    return np.where(enough, np.sqrt(variance / 2.0), 0.0)
