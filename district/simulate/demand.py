"""What people, shops, farms and buildings draw: bursts by the clock, drawn one by one."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from district.simulate.clock import Clock
from district.simulate.customers import Customers
from district.simulate.scenario import STEP_S, ZONES
from district.simulate.story import WAYS

Flow = NDArray[np.float64]

NIGHT_L_PROPERTY_H = {"household": 1.7, "commercial": 8.0, "farm": 15.0}
"""Mean night use; a zone's own true mean lies up to 20 % about it."""
_PATTERNS: dict[str, str] = {
    # Litres a property an hour, each hour of the day, for customers ...
    "household": "4.5 2.4 1.7 1.7 2.2 6 16 28 27 21 17 15 15 14 12 13 16 20 24 22 18 15 13 8.5",
    "household_weekend": ("6 3 1.7 1.7 1.9 3 7 14 24 30 28 24 20 18 16 16 17 20 22 21 18 16 14 10"),
    "commercial": "8 8 8 8 8 12 30 60 90 95 95 95 110 105 90 85 80 75 60 45 35 25 15 10",
    "farm": ("15 15 15 15 60 260 330 200 120 100 90 95 100 95 110 220 330 250 110 60 35 25 18 16"),
    # ... shares of the peak for buildings.
    "work": ("0 0 0 0 0 .02 .1 .3 .7 1 1 .95 1 .95 .9 .85 .7 .4 .2 .12 .06 .03 .01 0"),
    "meals": "0 0 0 0 0 .1 .35 .6 .5 .4 .6 .9 1 .9 .6 .3 .4 .7 .8 .6 .3 .1 0 0",
    "home": (".12 .06 .03 .03 .04 .12 .4 .9 1 .7 .5 .4 .4 .35 .3 .35 .45 .6 .7 .7 .6 .5 .4 .25"),
    "evening": "0 0 0 0 0 0 .15 .4 .4 .3 .3 .4 .6 .5 .4 .4 .6 .9 1 1 .7 .3 .05 0",
}


@dataclass(frozen=True, eq=False)
class Use:
    """True use of every quarter hour, L/s.

    customer_l_s: columns (zone_id, use_class); building_l_s: columns building meter ids, without
    any seeded leak; night_l_property_h: the drawn true means, by the same columns as customers.
    """

    customer_l_s: pd.DataFrame
    building_l_s: pd.DataFrame
    night_l_property_h: dict[tuple[str, str], float]


def draw_use(clock: Clock, customers: Customers, rng: np.random.Generator) -> Use:
    """Draw a year of use of all customers and buildings."""
    connections = customers.connections
    properties = connections.groupby(["zone_id", "use_class"])["properties"].sum()
    weather = _dry_evenings(clock, rng)
    drawn: dict[tuple[str, str], Flow] = {}
    nights: dict[tuple[str, str], float] = {}
    for zone in ZONES:
        for use, usual in NIGHT_L_PROPERTY_H.items():
            shift = float(rng.uniform(0.8, 1.2))
            count = int(properties.get((zone.zone_id, use), 0))
            if not count:
                continue
            rate = _customer_rate(clock, use, shift, weather, rng) * count / 3600
            nights[zone.zone_id, use] = usual * shift
            bursts = (6.0, 10.0) if use == "household" else (8.0, 24.0)
            drawn[zone.zone_id, use] = bursts_l_s(rate, bursts, rng)
    campus = connections[connections["use_class"] == "campus"].sort_values("meter_id")
    buildings = {
        str(row.meter_id): _building(clock, str(row.way), rng) for row in campus.itertuples()
    }
    customer = pd.DataFrame(drawn, index=clock.utc)
    customer.columns = pd.MultiIndex.from_tuples(list(drawn), names=["zone_id", "use_class"])
    return Use(customer, pd.DataFrame(buildings, index=clock.utc), nights)


def bursts_l_s(rate_l_s: Flow, burst_l: tuple[float, float], rng: np.random.Generator) -> Flow:
    """Compound Poisson use with mean `rate_l_s`, each burst even between the two volumes."""
    count = rng.poisson(rate_l_s * STEP_S / np.mean(burst_l))
    volumes = rng.uniform(*burst_l, int(count.sum()))
    edges = np.concatenate(([0.0], np.cumsum(volumes)))
    ends = np.cumsum(count)
    return np.asarray((edges[ends] - edges[ends - count]) / STEP_S, dtype=float)


def _shape(clock: Clock, pattern: str) -> Flow:
    """An hourly pattern, joined straight from mid-hour to mid-hour, flat from 02:00 to 04:00."""
    hours = np.array(_PATTERNS[pattern].split(), dtype=float)
    middle = np.arange(24) + 0.5
    smooth = np.interp(clock.hour + 0.125, middle, hours, period=24)
    return np.asarray(np.where(clock.night, hours[2], smooth), dtype=float)


def _dry_evenings(clock: Clock, rng: np.random.Generator) -> Flow:
    """How much gardens are watered, 0 to 1, by quarter hour: dry summer evenings only."""
    days = int(clock.day_number[-1]) + 1
    dry = np.zeros(days)
    state = 0.0
    for day in range(days):
        state = 0.75 * state + 0.25 * rng.normal(1.0, 1.3)
        dry[day] = np.clip(state, 0, 1.6) / 1.6
    summer = np.interp(clock.local.day_of_year, [130, 170, 230, 265], [0, 1, 1, 0], left=0, right=0)
    evening = np.clip(1 - np.abs(clock.hour - 20.0) / 2.2, 0, 1)
    return np.asarray(dry[clock.day_number] * summer * evening, dtype=float)


def _customer_rate(
    clock: Clock, use: str, shift: float, weather: Flow, rng: np.random.Generator
) -> Flow:
    if use == "household":
        shape = np.where(
            clock.workday, _shape(clock, "household"), _shape(clock, "household_weekend")
        )
        shape = shape + 28.0 * weather
    elif use == "commercial":
        shape = _shape(clock, use)
        shape = np.where(clock.workday, shape, 8.0 + 0.55 * (shape - 8.0))
    else:
        warm = 1 + 0.25 * np.cos(2 * np.pi * (clock.local.day_of_year - 200) / 365.25)
        shape = 15.0 + (_shape(clock, use) - 15.0) * warm
    days = rng.normal(1.0, 0.045, int(clock.day_number[-1]) + 1)[clock.day_number]
    awake = (clock.hour >= 5) & (clock.hour < 24)
    return np.asarray(shape * shift * np.where(awake, days, 1.0), dtype=float)


def _building(clock: Clock, kind: str, rng: np.random.Generator) -> Flow:
    way = WAYS[kind]
    size = float(rng.lognormal(0.0, 0.25))
    share = np.where(clock.term, 1.0, way.out_of_term_share)
    if way.pattern in ("work", "meals"):
        share = share * np.where(clock.workday, 1.0, 0.12 if way.pattern == "work" else 0.5)
    days = rng.normal(1.0, 0.08, int(clock.day_number[-1]) + 1).clip(0.6, 1.4)
    peak = way.peak_l_s * size * share * days[clock.day_number]
    drawn = bursts_l_s(peak * _shape(clock, way.pattern), (8.0, 16.0), rng)
    # Cooling and flushing run on; their flow wanders slowly by a few per cent.
    wander = np.cumsum(rng.normal(0, 0.01, int(clock.day_number[-1]) + 1))
    steady = way.steady_l_s * size * (1 + 0.06 * np.tanh(wander))[clock.day_number]
    return np.asarray(drawn + steady * rng.normal(1, 0.04, len(drawn)).clip(0.8, 1.2), dtype=float)
