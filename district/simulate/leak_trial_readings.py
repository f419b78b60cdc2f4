"""What the meters and loggers of a drawn zone say, and the event that detection makes of it."""

from __future__ import annotations

from typing import Any

import numpy as np
import pandas as pd

from district.hydraulics.model import Reals
from district.schema.columns import Table
from district.schema.event_tables import EVENTS
from district.schema.outputs import ZONES
from district.settings import Settings
from district.simulate.leak_trial_map import METER_ERROR_PERCENT, ZONE
from district.simulate.leak_trial_use import HOURS

_NIGHT = (2, 3)
_LIMIT = 1.96
_NOISE_M = 0.1
_STEP_M = 0.1
_DRIFT_M = 0.02
"""Wander of a logger's zero over a month."""
_LOST_SHARE = 0.01


def read_pressures(
    rng: np.random.Generator,
    days: pd.DatetimeIndex,
    sensor_id: Any,
    pressure_m: Reals,
    offset_m: Reals,
) -> pd.DataFrame:
    """Table HOURLY_PRESSURES of true pressures (T, G) at loggers that read `offset_m` too much,
    (G) or (T, G): means of four readings, each with its noise and in steps of 0.1 m, on a zero
    that wanders; some hours, and a few days of one logger, are lost."""
    hours, loggers = pressure_m.shape
    drift = np.cumsum(rng.normal(0.0, _DRIFT_M / np.sqrt(30.0), (len(days), loggers)), axis=0)
    shown = pressure_m + offset_m + np.repeat(drift, HOURS, axis=0)
    quarters = shown + rng.normal(0.0, _NOISE_M, (4, hours, loggers))
    mean = (np.round(quarters / _STEP_M) * _STEP_M).mean(axis=0)
    lost = rng.random(mean.shape) < _LOST_SHARE
    silent = int(rng.integers(0, max(1, hours - 3 * HOURS)))
    lost[silent : silent + 3 * HOURS, rng.integers(loggers)] = True
    return _long(days, sensor_id, mean, "pressure_m", ~lost)


def read_flows(
    rng: np.random.Generator,
    days: pd.DatetimeIndex,
    meter_id: Any,
    flow_l_s: Reals,
    *,
    error_percent: float = METER_ERROR_PERCENT,
) -> pd.DataFrame:
    """Table HOURLY_FLOWS of true flows (T, M): each meter is off by its own share (95 % within
    `error_percent`), and each hour by 0.2 %."""
    own = 1.0 + rng.normal(0.0, error_percent / 100 / _LIMIT, flow_l_s.shape[1])
    read = flow_l_s * own * rng.normal(1.0, 0.002, flow_l_s.shape)
    return _long(days, meter_id, read, "flow_l_s", np.ones(read.shape, dtype=bool))


def event_of(
    rng: np.random.Generator, days: pd.DatetimeIndex, inflow_l_s: Reals, first: int
) -> pd.DataFrame:
    """Table EVENTS: one open leak, its size as the rise of the measured night inflow (T) tells it.

    Parameters: `first` is the number of the first night with the leak. It is known within a day.
    """
    nights = inflow_l_s.reshape(-1, HOURS)[:, list(_NIGHT)].mean(axis=1)
    before, after = nights[:first], nights[first:]
    size = max(float(after.mean() - before.mean()), Settings().events.smallest_l_s)
    error = float(np.hypot(_error(before), _error(after)))
    said = first + int(rng.integers(-1, 2))
    named = {"event_id": "E01", "place_kind": "zone", "place_id": ZONE, "cell_id": ZONE}
    kind = {"other_cell_id": "", "kind": "leak", "reason": "drawn", "state": "open", "act": True}
    when = {
        name: days[min(night, len(days) - 1)]
        for name, night in (
            ("start", said),
            ("start_low", said - 1),
            ("start_high", said + 1),
            ("detected", first + 4),
        )
    }
    low, high = max(0.0, size - _LIMIT * error), size + _LIMIT * error
    size_l_s = _limits("size_l_s", size, low, high)
    return _one_row(EVENTS, {**named, **kind, **when, **size_l_s, "growth_l_s_d": 0.0})


def zone_of(event: pd.DataFrame, *, pressure_m: float) -> pd.DataFrame:
    """Table ZONES: the excess is the event's, known half as well at best."""
    size, low = float(event["size_l_s"].iloc[0]), float(event["size_l_s_low"].iloc[0])
    low = min(low, 0.5 * size)
    excess = _limits("excess_l_s", size, low, 2.0 * size - low)
    return _one_row(ZONES, {"cell_id": ZONE, "name": ZONE, "pressure_m": pressure_m, **excess})


def _error(nights: Reals) -> float:
    """Standard error of the mean of nights of which each is like the one before."""
    off = nights - nights.mean()
    alike = float(np.clip((off[1:] * off[:-1]).sum() / (off**2).sum() + 1 / len(off), 0.0, 0.7))
    return float(off.std(ddof=1) * np.sqrt((1 + alike) / (1 - alike) / len(off)))


def _limits(name: str, value: float, low: float, high: float) -> dict[str, float]:
    return {name: value, f"{name}_low": low, f"{name}_high": high}


def _one_row(table: Table, row: dict[str, Any]) -> pd.DataFrame:
    frame = pd.DataFrame([row]).reindex(columns=list(table.names()))
    for column in table.columns:
        if column.kind == "real":
            frame[column.name] = frame[column.name].astype(float)
        if column.kind == "date":
            frame[column.name] = pd.to_datetime(frame[column.name])
    return frame


def _long(
    days: pd.DatetimeIndex, device_id: Any, values: Reals, name: str, kept: Any
) -> pd.DataFrame:
    devices = values.shape[1]
    frame = pd.DataFrame(
        {
            "device_id": np.tile(np.asarray(device_id, dtype=object), len(values)),
            "day": np.repeat(days.to_numpy(), HOURS * devices),
            "hour": np.tile(np.repeat(np.arange(HOURS), devices), len(days)),
            name: values.ravel(),
        }
    )
    return frame[np.asarray(kept).ravel()].sort_values(
        ["device_id", "day", "hour"], ignore_index=True
    )
