"""What the instruments report of the true flows: their error, resolution and mishaps."""

from __future__ import annotations

import geopandas as gpd
import numpy as np
import pandas as pd
from numpy.typing import NDArray

from district.simulate.clock import Clock, utc_of
from district.simulate.leaks import course
from district.simulate.scenario import STEP_S
from district.simulate.story import CHANGED_METER, DEAD_METERS, SEEDS, WORKS

Values = NDArray[np.float64]

GAPS: tuple[tuple[str, str, float], ...] = (
    ("ZM-C1", "2025-02-20T06:00", 9),
    ("ZM-T", "2025-03-05T20:00", 12),
    ("ZM-V1", "2025-06-24T00:00", 92),
    ("ZM-V2", "2025-07-20T13:00", 5),
    ("ZM-V3", "2025-08-19T08:00", 47),
    ("ZM-C4", "2025-11-20T21:00", 30),
    ("ZM-C2", "2025-12-16T10:00", 84),
    ("BM07", "2025-04-11T16:00", 70),
    ("BM21", "2025-09-02T01:00", 10),
    ("BM30", "2025-01-25T12:00", 36),
    ("BM38", "2025-11-05T09:00", 120),
    ("PL-03", "2025-09-01T15:00", 150),
    ("PL-08", "2025-05-18T04:00", 20),
)
"""Device, local time from which nothing came, hours."""
STUCK: tuple[tuple[str, str, float], ...] = (("ZM-V2", "2025-04-02T13:00", 17),)
"""Rate meter, local time from which it repeated itself, hours."""
OFFSETS_M: dict[str, float] = {"PL-12": 2.5}
"""Pressure logger whose level was taken from another bench mark, and by how much it is off."""
_SPIKES_PER_YEAR = 3
_FIRST_REGISTER_M3 = {"ZM-V3": 83_211.4}


def meter_errors(meters: gpd.GeoDataFrame, rng: np.random.Generator) -> pd.Series:
    """What each meter reads of one true litre: constant, `error_percent` being its 95 % limit.

    Customers' meters read 2 % low on average (common practice, no source).
    """
    spread = meters["error_percent"].to_numpy(dtype=float) / 100 / 1.96
    low = np.where(meters["role"] == "customer", 0.02, 0.0)
    return pd.Series(1 - low + rng.normal(0, 1, len(meters)) * spread, index=meters["meter_id"])


def zone_readings(
    clock: Clock,
    meter_l_s: pd.DataFrame,
    meters: gpd.GeoDataFrame,
    errors: pd.Series,
    rng: np.random.Generator,
) -> pd.DataFrame:
    """Quarter-hourly readings of the zone meters, long: device_id, time (UTC), value.

    Rates (L/s, mean of the interval) and pulse counts are stamped with the interval's end.
    """
    parts = []
    faults = {s.device_id: course(s, clock) for s in SEEDS if s.what == "meter_fault"}
    edges = clock.edges()
    for meter in meters.itertuples():
        name = str(meter.meter_id)
        seen = meter_l_s[name].to_numpy() * errors[name] * (1 - faults.get(name, 0.0))
        if meter.kind == "pulse":
            passed = np.concatenate(([0.0], np.cumsum(seen * STEP_S))) + 411.0
            values = np.diff(np.floor(passed / meter.litres_per_pulse))
            times = edges[1:]
        elif meter.kind == "register":
            first = _FIRST_REGISTER_M3[name]
            values = _register(seen, first, meter.resolution_l, meter.register_digits)
            values = _register_spike(values, rng)
            times = edges
        else:
            values = seen + rng.normal(0, 1, len(seen)) * (0.004 + 0.006 * np.abs(seen))
            values = np.round(values, 2)
            values = _rate_spikes(_stuck(name, values, clock), rng)
            times = edges[1:]
        parts.append(_reported(name, times, values))
    return pd.concat(parts, ignore_index=True)


def building_readings(
    clock: Clock,
    building_l_s: pd.DataFrame,
    meters: gpd.GeoDataFrame,
    errors: pd.Series,
    rng: np.random.Generator,
) -> pd.DataFrame:
    """Hourly registers (m3) of the buildings, wide: index UTC, one column a meter; NaN in gaps."""
    edges = clock.edges()
    hourly = edges.minute == 0
    own = meters[meters["role"] == "building"]
    columns = {}
    for meter in own.itertuples():
        name = str(meter.meter_id)
        first = float(rng.uniform(900, 60_000))
        seen = building_l_s[name].to_numpy() * errors[name]
        values = _register(seen, first, meter.resolution_l, meter.register_digits)[hourly]
        values = _renewed(name, edges[hourly], values)
        values = _dead(str(meter.building_id), edges[hourly], values)
        if rng.random() < 0.06:
            values = _register_spike(values, rng)
        columns[name] = np.where(_silent(name, edges[hourly]), np.nan, values)
    return pd.DataFrame(columns, index=edges[hourly])


def pressure_readings(
    clock: Clock, logger_head_m: pd.DataFrame, loggers: gpd.GeoDataFrame, rng: np.random.Generator
) -> pd.DataFrame:
    """Pressure (m), every third logger hourly, the others quarter-hourly; long, UTC instants.

    Gauges are levelled and set to zero, but for the small offsets drawn and `OFFSETS_M`.
    """
    parts = []
    for number, logger in enumerate(loggers.itertuples()):
        name = str(logger.sensor_id)
        head = logger_head_m[name].to_numpy()
        offset = rng.normal(0, 0.25) + OFFSETS_M.get(name, 0.0)
        values = head - logger.elevation_m + offset + rng.normal(0, 0.1, len(head))
        keep = clock.utc.minute == 0 if number % 3 == 1 else np.ones(len(head), dtype=bool)
        parts.append(_reported(name, clock.utc[keep], np.round(values, 1)[keep]))
    return pd.concat(parts, ignore_index=True)


def _register(seen_l_s: Values, first_m3: float, resolution_l: float, digits: float) -> Values:
    """Register at every edge, m3: whole steps of its resolution, rolling over."""
    step = resolution_l / 1000
    passed = first_m3 + np.concatenate(([0.0], np.cumsum(seen_l_s * STEP_S / 1000)))
    shown = np.floor(passed / step + 1e-6) * step % 10**digits
    return np.round(shown, 3)


def _renewed(name: str, times: pd.DatetimeIndex, values: Values) -> Values:
    """The register from the new meter's zero, where it was changed."""
    if name != CHANGED_METER:
        return values
    changed = next(utc_of(w.end) for w in WORKS if w.kind == "meter_change")
    before = int(np.searchsorted(times.asi8, changed.as_unit("ns").value))
    if before in (0, len(values)):
        return values
    return np.round(np.concatenate((values[:before], values[before:] - values[before - 1])), 3)


def _dead(building: str, times: pd.DatetimeIndex, values: Values) -> Values:
    """The register where it stopped counting, though it is still sent."""
    held = values.copy()
    for name, start in DEAD_METERS:
        since = np.asarray(times >= utc_of(start))
        if name == building and since.any():
            held[since] = held[np.argmax(since)]
    return held


def _rate_spikes(values: Values, rng: np.random.Generator) -> Values:
    spiked = values.copy()
    count = rng.poisson(_SPIKES_PER_YEAR * len(values) / 35_040)
    at = rng.integers(0, len(values), count)
    spiked[at] = np.round(rng.uniform(60, 300, count), 2)
    return spiked


def _register_spike(values: Values, rng: np.random.Generator) -> Values:
    """One reading garbled on the way: a digit too many."""
    spiked = values.copy()
    at = int(rng.integers(1, len(values) - 1))
    spiked[at] = np.round(spiked[at] + 4000.0, 3)
    return spiked


def _stuck(name: str, values: Values, clock: Clock) -> Values:
    held = values.copy()
    for device, start, hours in STUCK:
        first = utc_of(start)
        during = (clock.utc >= first) & (clock.utc < first + pd.Timedelta(hours=hours))
        if device == name and during.any():
            held[during] = held[during][0]
    return held


def _silent(name: str, times: pd.DatetimeIndex) -> NDArray[np.bool_]:
    silent = np.zeros(len(times), dtype=bool)
    for device, start, hours in GAPS:
        if device == name:
            first = utc_of(start)
            silent |= np.asarray((times > first) & (times <= first + pd.Timedelta(hours=hours)))
    return silent


def _reported(name: str, times: pd.DatetimeIndex, values: Values) -> pd.DataFrame:
    kept = ~_silent(name, times)
    return pd.DataFrame({"device_id": name, "time": times[kept], "value": values[kept]})
