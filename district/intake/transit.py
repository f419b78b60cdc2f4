"""Travel times of sound, against the flow and with it, as a flow.

Along a path of length L at an angle α to the pipe's axis the velocity is
v = L / (2 cos α) · (tu − td) / (tu td), the speed of sound c = L / 2 · (tu + td) / (tu td)
(c as published by makers of such meters, v from memory). A file gives tu and td; what is formed
of them while it is read, (tu − td)/(tu td) and (tu + td)/(tu td), needs nothing of the meter.
"""

from __future__ import annotations

import math
from typing import Any

import numpy as np

from district.units import WATER_VISCOSITY_M2_S

SOUND_IN_WATER_M_S = (1400.0, 1560.0)
"""From ice-cold to hot water (common practice, no source)."""
UNITS_S = {"us": 1e-6, "ns": 1e-9, "ms": 1e-3, "s": 1.0}
"""Endings of the columns of travel times -> seconds."""
_LAMINAR = 0.75
_LAMINAR_UP_TO, _TURBULENT_FROM = 2300.0, 4000.0
_PICOSECONDS = 1e12
Array = np.ndarray[Any, Any]


def difference_and_sum(up_s: Array, down_s: Array) -> tuple[Array, Array]:
    """(tu − td)/(tu td) and (tu + td)/(tu td), 1/s; NaN where a time is not above zero."""
    good = (up_s > 0) & (down_s > 0)
    up, down = np.where(good, up_s, np.nan), np.where(good, down_s, np.nan)
    return (up - down) / (up * down), (up + down) / (up * down)


def travel_times_s(difference: Array, total: Array) -> tuple[Array, Array]:
    """The two travel times again, as `difference_and_sum` took them apart."""
    return 2.0 / (total - difference), 2.0 / (total + difference)


def path_velocity_m_s(difference: Array, *, path_m: float, angle_deg: float) -> Array:
    """Velocity of the water along the pipe, as the path sees it; positive from up to down."""
    return np.asarray(difference * path_m / (2.0 * math.cos(math.radians(angle_deg))))


def sound_speed_m_s(total: Array, *, path_m: float) -> Array:
    """Speed of sound in the water along the path."""
    return np.asarray(total * path_m / 2.0)


def profile_factor(velocity_m_s: Array, *, bore_m: float) -> Array:
    """Mean velocity in the pipe over that on a path through its middle.

    0.75 in laminar flow; 1 / (1.119 − 0.011 log10 Re) in turbulent flow, which is 0.93 to 0.95
    (both from memory); a straight line between Re 2300 and 4000. How far it may be off is in
    `district.balance.meter_errors`.
    """
    reynolds = np.abs(velocity_m_s) * bore_m / WATER_VISCOSITY_M2_S
    turbulent = 1.0 / (1.119 - 0.011 * np.log10(np.maximum(reynolds, _TURBULENT_FROM)))
    share = (reynolds - _LAMINAR_UP_TO) / (_TURBULENT_FROM - _LAMINAR_UP_TO)
    return np.asarray(_LAMINAR + np.clip(share, 0.0, 1.0) * (turbulent - _LAMINAR))


def flow_m3_h(
    difference: Array, *, path_m: float, angle_deg: float, bore_m: float, factor_share: float
) -> Array:
    """Flow through the pipe; `factor_share` is the profile factor, NaN to take it by the flow."""
    velocity = path_velocity_m_s(difference, path_m=path_m, angle_deg=angle_deg)
    factor = profile_factor(velocity, bore_m=bore_m) if math.isnan(factor_share) else factor_share
    return np.asarray(factor * velocity * math.pi / 4.0 * bore_m**2 * 3600.0)


def time_step_s(up_s: Array, down_s: Array) -> float:
    """The smallest step the travel times are written in, NaN if it cannot be told."""
    whole = np.unique(np.round(np.concatenate([up_s, down_s]) * _PICOSECONDS).astype(np.int64))
    if len(whole) < 2:
        return math.nan
    return float(np.gcd.reduce(np.diff(whole))) / _PICOSECONDS
