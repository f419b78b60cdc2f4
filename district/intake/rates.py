"""Readings of a rate meter as m³/h: as they are, or by the travel times of sound."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any

import numpy as np

from district.errors import Finding
from district.intake.clean import resolution
from district.intake.devices import Device
from district.intake.transit import (
    SOUND_IN_WATER_M_S,
    flow_m3_h,
    sound_speed_m_s,
    time_step_s,
    travel_times_s,
)

Array = np.ndarray[Any, Any]


@dataclass(frozen=True, eq=False)
class Rates:
    """Flow at each reading, m³/h; NaN where travel times come without a path."""

    rate_m3_h: Array
    step_m3_h: float
    """The smallest step it can show; NaN if it cannot be told."""
    by_times: Array
    """Which readings are travel times."""
    unsound: Array
    """Which of them cannot be of water."""
    notes: list[Finding]
    speed_m_s: Array
    """Of sound, by each reading; NaN without travel times."""


def rates(device: Device, value: Array, beside: Array) -> Rates:
    """The flow of a rate meter, from `value` and `beside` as of `flows.flow`."""
    timed = np.isfinite(beside)
    plain = value * device.scale
    if not timed.any():
        return Rates(plain, resolution(value) * device.scale, timed, timed, [], beside)
    if device.kind != "transit_time":
        none = np.zeros(len(value), dtype=bool)
        return Rates(plain, resolution(value) * device.scale, none, none, [_second(device)], beside)
    path = device.path
    if path is None:
        return Rates(
            np.where(timed, np.nan, plain), math.nan, timed, timed, [_pathless(device)], beside
        )
    flowing = flow_m3_h(
        value,
        path_m=path.path_m,
        angle_deg=path.angle_deg,
        bore_m=path.bore_m,
        factor_share=path.factor_share,
    )
    speed = sound_speed_m_s(beside, path_m=path.path_m)
    low, high = SOUND_IN_WATER_M_S
    unsound = timed & ((speed < low) | (speed > high))
    up_s, down_s = travel_times_s(value[timed], beside[timed])
    step_s = time_step_s(up_s, down_s)
    # A step of one travel time, on the difference of the two.
    one_1_s = float(np.median(step_s / (up_s * down_s)))
    step_m3_h = float(
        flow_m3_h(
            np.array(one_1_s),
            path_m=path.path_m,
            angle_deg=path.angle_deg,
            bore_m=path.bore_m,
            factor_share=1.0,
        )
    )
    return Rates(np.where(timed, flowing, plain), step_m3_h, timed, unsound, [], speed)


def _pathless(device: Device) -> Finding:
    return Finding(
        "error",
        device.layer,
        column="path_length_mm",
        got="nothing",
        expected="the length of the sound path in mm, as its readings are travel times",
        remedy="Fill it in, with path_angle_deg and bore_mm",
    )


def _second(device: Device) -> Finding:
    return Finding(
        "warning",
        device.layer,
        column="kind",
        got=f"{device.kind}, but a second value beside each reading",
        expected="transit_time for travel times, or register for a total with a rate beside it",
        remedy="Correct the kind if it is one of the two; the second value is not used",
    )
