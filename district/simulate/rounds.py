"""Readings taken on foot or sent rarely: customers' quarterly reads, wet-floor heartbeats."""

from __future__ import annotations

import numpy as np
import pandas as pd

from district.simulate.clock import Clock
from district.simulate.customers import Customers
from district.simulate.demand import Use
from district.simulate.scenario import STEP_S, ZONE_IDS
from district.simulate.story import WET_SPELLS

_MISSED_SHARE = 0.04
_HEARTBEATS = ("00:10", "06:10", "12:10", "18:10")


def customer_daily_m3(
    clock: Clock, customers: Customers, use: Use, rng: np.random.Generator
) -> pd.DataFrame:
    """True daily use by connection (columns) and local day (index): adds up to the zones' use.

    Weights are drawn for each customer and month, so that habits change over the year.
    """
    first = clock.local[0].normalize()
    daily = (use.customer_l_s * (STEP_S / 1000)).groupby(clock.day_number).sum()
    days = pd.date_range(first, periods=len(daily), freq="D")
    month = days.month.to_numpy() - 1
    connections = customers.connections
    parts: dict[str, np.ndarray] = {}
    for zone_id, use_class in use.customer_l_s.columns:
        own = connections[
            (connections["zone_id"] == zone_id) & (connections["use_class"] == use_class)
        ]
        size = rng.gamma(3.0, 1 / 3.0, len(own)) * own["properties"].to_numpy()
        weights = size[:, None] * rng.gamma(8.0, 1 / 8.0, (len(own), 12))
        weights /= weights.sum(axis=0)
        volume = daily[zone_id, use_class].to_numpy()
        for name, weight in zip(own["connection_id"], weights, strict=True):
            parts[str(name)] = weight[month] * volume
    return pd.DataFrame(parts, index=days)


def customer_reads(
    customers: Customers,
    daily_m3: pd.DataFrame,
    errors: pd.Series,
    rng: np.random.Generator,
) -> pd.DataFrame:
    """Registers in whole m3 at the start of the reading day, long: device_id, time (local day),
    value. A round takes days, its dates are uneven, and some doors stay shut."""
    days = daily_m3.index
    count = max(2, round(len(days) / 91) + 1)
    rounds = np.linspace(3, len(days) - 4, count)
    connections = customers.connections
    own = connections[connections["meter_id"].notna() & (connections["use_class"] != "campus")]
    passed = daily_m3.cumsum()
    rows = []
    for customer in own.itertuples():
        street = ZONE_IDS.index(str(customer.zone_id))
        spread = rng.integers(-3, 4, count) + (street - 3.5) * min(1.0, len(days) / 365)
        at = np.unique(np.round(rounds + spread).clip(1, len(days) - 1).astype(int))
        kept = at[(rng.random(len(at)) > _MISSED_SHARE) | (at == at[0]) | (at == at[-1])]
        start = float(rng.uniform(10, 2400))
        through = passed[customer.connection_id].to_numpy()[kept - 1]
        values = np.floor(start + through * errors[customer.meter_id]) % 1e5
        rows += [(customer.meter_id, days[d], v) for d, v in zip(kept, values, strict=True)]
    return pd.DataFrame(rows, columns=["device_id", "time", "value"])


def wet_floor_readings(clock: Clock, sensors: pd.DataFrame) -> pd.DataFrame:
    """Heartbeats four times a day and at each change, long: device_id, time (local), value."""
    first = clock.local[0].normalize()
    days = pd.date_range(first, periods=int(clock.day_number[-1]) + 1, freq="D")
    beats = {day + pd.Timedelta(f"{beat}:00") for day in days for beat in _HEARTBEATS}
    end = days[-1] + pd.Timedelta(days=1)
    rows = []
    for sensor in sensors.loc[sensors["kind"] == "wet_floor", "sensor_id"]:
        spells = [(pd.Timestamp(a), pd.Timestamp(b)) for name, a, b in WET_SPELLS if name == sensor]
        moments = beats | {t for spell in spells for t in spell if first <= t < end}
        for moment in sorted(moments):
            wet = any(a <= moment < b for a, b in spells)
            rows.append((sensor, moment, int(wet)))
    return pd.DataFrame(rows, columns=["device_id", "time", "value"])
