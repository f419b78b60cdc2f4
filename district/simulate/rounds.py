"""Readings taken on foot or sent rarely: customers' quarterly reads, alarm sensors' heartbeats."""

from __future__ import annotations

import numpy as np
import pandas as pd

from district.schema.inputs import ALARM_KINDS
from district.simulate.clock import Clock
from district.simulate.customers import Customers
from district.simulate.demand import Use
from district.simulate.scenario import STEP_S, ZONE_IDS
from district.simulate.story import CHATTER, SILENT, WET_SPELLS

_MISSED_SHARE = 0.04
_HEARTBEATS = ("00:10", "06:10", "12:10", "18:10")


def customer_daily_m3(
    clock: Clock, use: Use, weights: dict[tuple[str, str], pd.DataFrame]
) -> pd.DataFrame:
    """True daily use by connection (columns) and local day (index): adds up to the zones' use.

    `weights` are `draws.customer_weights`.
    """
    first = clock.local[0].normalize()
    daily = (use.customer_l_s * (STEP_S / 1000)).groupby(clock.day_number).sum()
    days = pd.date_range(first, periods=len(daily), freq="D")
    month = days.month.to_numpy() - 1
    parts: dict[str, np.ndarray] = {}
    for group, shares in weights.items():
        volume = daily[group].to_numpy()
        for name, share in zip(shares.index, shares.to_numpy(), strict=True):
            parts[str(name)] = share[month] * volume
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


def alarm_readings(clock: Clock, sensors: pd.DataFrame) -> pd.DataFrame:
    """Heartbeats four times a day and at each change, long: device_id, time (local), value."""
    first = clock.local[0].normalize()
    days = pd.date_range(first, periods=int(clock.day_number[-1]) + 1, freq="D")
    beats = {day + pd.Timedelta(f"{beat}:00") for day in days for beat in _HEARTBEATS}
    end = days[-1] + pd.Timedelta(days=1)
    rows = []
    for sensor in sensors.loc[sensors["kind"].isin(ALARM_KINDS), "sensor_id"]:
        spells = [(pd.Timestamp(a), pd.Timestamp(b)) for name, a, b in WET_SPELLS if name == sensor]
        spells += _chatter(sensor)
        last = min([end, *(pd.Timestamp(t) for name, t in SILENT if name == sensor)])
        moments = beats | {t for spell in spells for t in spell if first <= t < end}
        moments = {t for t in moments if t < last}
        for moment in sorted(moments):
            wet = any(a <= moment < b for a, b in spells)
            rows.append((sensor, moment, int(wet)))
    return pd.DataFrame(rows, columns=["device_id", "time", "value"])


def _chatter(sensor: str) -> list[tuple[pd.Timestamp, pd.Timestamp]]:
    """Short spells of a loose contact, at times that look like chance and are always the same."""
    spells = []
    for name, begin, end, count in CHATTER:
        if name == sensor:
            first, last = pd.Timestamp(begin), pd.Timestamp(end)
            # Fractions of the golden section fill the span without ever falling into step.
            minutes = np.sort((np.arange(1, count + 1) * 0.6180339887) % 1.0)
            for minute in np.floor(minutes * (last - first).total_seconds() / 60):
                at = first + pd.Timedelta(minutes=float(minute))
                spells.append((at, at + pd.Timedelta(minutes=1 + int(minute) % 4)))
    return spells
