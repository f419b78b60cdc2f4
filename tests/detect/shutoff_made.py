"""Histories made by hand for valves that shut by themselves."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import pandas as pd

from district.detect.shutoff_history import HOUR_US, History, history_of
from district.detect.shutoff_leaks import Leak

FIRST = pd.Timestamp("2025-01-01", tz="UTC")
FIRST_US = int(FIRST.value // 1000)


def intervals(flow_l_s: Sequence[float], *, step_h: float = 1.0, device: str = "B1"):
    """Table INTERVALS of one meter, sound and without a gap, from New Year on."""
    step = pd.Timedelta(hours=step_h)
    start = FIRST + step * np.arange(len(flow_l_s))
    return pd.DataFrame(
        {
            "device_id": device,
            "start_utc": start,
            "end_utc": start + step,
            "volume_m3": np.asarray(flow_l_s, dtype=float) * 3.6 * step_h,
            "quality": "ok",
        }
    )


def history(flow_l_s: Sequence[float], *, step_h: float = 1.0) -> History:
    return history_of(intervals(flow_l_s, step_h=step_h))


def every_day(days: int, hours: range, flow_l_s: float) -> np.ndarray:
    """Hourly flow: the same at the same hours of every day, else none."""
    one = np.zeros(24)
    one[list(hours)] = flow_l_s
    return np.tile(one, days)


def leak(first_h: int, last_h: int, flow_l_s: float, *, grows: bool = False) -> Leak:
    """A leak of known flow (of its last hour where it grows), 10 % either way."""
    hours = last_h - first_h
    volume = flow_l_s * 3.6 * hours * (0.5 if grows else 1.0)
    span = (FIRST_US + first_h * HOUR_US, FIRST_US + last_h * HOUR_US)
    return Leak(span, 0.0, (volume, 0.9 * volume, 1.1 * volume), grows, "event")
