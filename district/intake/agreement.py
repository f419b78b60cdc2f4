"""A register and the rate read beside it, held against each other day by day."""

from __future__ import annotations

from typing import Any

import numpy as np
import pandas as pd

from district.errors import Finding
from district.words import brief, day, plural

_SIGMAS = 3.0
_LEAST_DAYS = 3
_MOSTLY = 0.5
_ALIKE = 2.0
_SUMS = ("register_m3", "rate_m3", "variance_m6", "rounding_m3")
Array = np.ndarray[Any, Any]


def rate_volume_m3(hours: Array, rate_m3_h: Array) -> tuple[Array, Array]:
    """Volume of each interval between readings by the rates at its two ends, and its variance.

    A straight line is drawn between the two; what the flow did between them is taken to spread
    as they differ.
    """
    length = np.diff(hours)
    return (
        (rate_m3_h[:-1] + rate_m3_h[1:]) / 2.0 * length,
        (np.diff(rate_m3_h) * length) ** 2 / 2.0,
    )


def borne_out(volume_m3: Array, by_rate_m3: Array) -> Array:
    """Where the rate shows, within a factor of two, that the volume really passed."""
    return np.asarray(
        (by_rate_m3 > 0) & (volume_m3 <= _ALIKE * by_rate_m3) & (volume_m3 >= by_rate_m3 / _ALIKE)
    )


def rate_days(
    device_id: str,
    start_us: Array,
    volume_m3: Array,
    by_rate_m3: Array,
    variance_m6: Array,
    rounding_m3: Array,
    *,
    timezone: str,
) -> pd.DataFrame:
    """Table RATE_DAYS of intervals, by the local day each begins on; NaN where not known."""
    known = np.isfinite(volume_m3) & np.isfinite(by_rate_m3)
    instants = pd.DatetimeIndex(start_us[known].astype("datetime64[us]"), tz="UTC")
    local = instants.tz_convert(timezone).tz_localize(None).normalize()
    return (
        pd.DataFrame(
            {
                "device_id": device_id,
                "day": local.tz_localize("UTC").as_unit("us"),
                "register_m3": volume_m3[known],
                "rate_m3": by_rate_m3[known],
                "variance_m6": variance_m6[known],
                "rounding_m3": rounding_m3[known],
            }
        )
        .groupby(["device_id", "day"], as_index=False)
        .sum()
    )


def disagreeing(days: pd.DataFrame, *, resolution_m3: float, error_share: float) -> list[Finding]:
    """A warning where rate and register differ on three days or more; its file comes later.

    `days` is table RATE_DAYS of one device. A day may differ by the meter's error, one step of
    the register, half a step of the rate all day (`rounding_m3`) and three standard deviations of
    what the flow does between readings.
    """
    if days.empty:
        return []
    days = days.assign(day=days["day"].dt.tz_localize(None))
    days = days.rename(columns={c: c.rpartition("_")[0] for c in _SUMS})
    by_day = days.groupby("day")[[c.rpartition("_")[0] for c in _SUMS]].sum()
    spread = (
        _SIGMAS * np.sqrt(by_day["variance"]) + by_day["rounding"] + np.nan_to_num(resolution_m3)
    )
    allowed = spread + np.nan_to_num(error_share) * by_day["register"].abs()
    odd = (by_day["rate"] - by_day["register"]).abs() > allowed
    if odd.sum() < _LEAST_DAYS:
        return []
    wrong = by_day[odd]
    first, last = wrong.index[0], wrong.index[-1]
    lasting = float(odd[first:].mean()) >= _MOSTLY and bool(odd.iloc[-_LEAST_DAYS:].any())
    if lasting and first == by_day.index[0]:
        when = "all along"
    elif lasting:
        when = f"since {day(first)}"
    else:
        when = f"on {plural(len(wrong), 'day')} from {day(first)} to {day(last)}"
    mean = wrong.mean()
    return [
        Finding(
            "warning",
            "",
            got=f"a rate that makes {brief(mean['rate'])} m³ a day where the register makes "
            f"{brief(mean['register'])} m³, {when}",
            expected=f"the same within {brief(float(allowed[odd].mean()))} m³",
            remedy="Check rate_unit and reading_unit, then the register; its volumes are used",
        )
    ]
