"""What the users of a trial district draw, in steps of 15 minutes."""

from __future__ import annotations

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from district.settings import Allowance, Settings
from district.simulate.trial_map import TrialMap

Values = NDArray[np.float64]

STEPS_A_DAY = 96
STEP_S = 900.0
NIGHT = slice(8, 16)
"""Steps of the night window, 02:00 to 04:00."""
LIMIT = 1.96
_BUILDING = Allowance(l_property_h=0.0, burst_l=12.0)
_SHAPES = {
    "household": "4.5 2.4 1.7 1.7 2.2 6 16 28 27 21 17 15 15 14 12 13 16 20 24 22 18 15 13 8.5",
    "commercial": "8 8 8 8 8 12 30 60 90 95 95 95 110 105 90 85 80 75 60 45 35 25 15 10",
}
"""Course of the day by hour; only its form counts, and it is flat in the night window."""


def common_days(rng: np.random.Generator, nights: pd.DatetimeIndex) -> Values:
    """How much more is drawn by day than usual, the same in all zones: season, weather, weekend."""
    season = 0.12 * np.cos(2 * np.pi * (nights.day_of_year.to_numpy() - 200) / 365.25)
    weather, state = np.zeros(len(nights)), 0.0
    for day, chance in enumerate(rng.normal(0.0, 0.03, len(nights))):
        state = 0.8 * state + chance
        weather[day] = state
    days = (1.0 + season + weather) * np.where(nights.day_of_week.to_numpy() >= 5, 1.08, 1.0)
    return np.asarray(days / days.mean())


def course(use_class: str) -> Values:
    """Form of the day in steps: 0 in the night window, mean of 1."""
    hours = np.array(_SHAPES.get(use_class, _SHAPES["household"]).split(), dtype=float)
    step_h = (np.arange(STEPS_A_DAY) + 0.5) / 4
    shape = np.interp(step_h, np.arange(24) + 0.5, hours, period=24) - hours[2]
    shape[NIGHT] = 0.0
    shape = np.maximum(shape, 0.0)
    return np.asarray(shape / shape.mean())


def _rate(
    rng: np.random.Generator, use_class: str, allowance: Allowance, days: Values
) -> tuple[Values, float]:
    """Litres a property an hour in each step, and the true mean of the night."""
    spread = allowance.spread_share / LIMIT
    night = allowance.l_property_h * max(1.0 + rng.normal() * spread, 0.02)
    day = allowance.l_property_d * max(1.0 + rng.normal() * spread, 0.02)
    more = max(day / 24.0 - night, 0.0)
    # Nights differ a little too; their mean over the record is the zone's own.
    nights = rng.lognormal(0.0, 0.04, len(days))
    own = days * rng.normal(1.0, 0.04, len(days)).clip(0.8, 1.2)
    rate = night * (nights / nights.mean())[:, None] + more * own[:, None] * course(use_class)
    return rate.ravel(), night


def bursts_l_s(rng: np.random.Generator, rate_l_s: Values, allowance: Allowance) -> Values:
    """Compound Poisson use with this mean, in bursts as the allowance states them."""
    count = rng.poisson(np.asarray(rate_l_s) * STEP_S / allowance.burst_l)
    shape = (LIMIT / max(allowance.burst_spread_share, 0.01)) ** 2
    volume = rng.standard_gamma(np.maximum(count, 1) * shape) * allowance.burst_l / shape
    return np.asarray(np.where(count > 0, volume, 0.0) / STEP_S)


def draw_use(
    rng: np.random.Generator, drawn: TrialMap, settings: Settings, days: Values
) -> tuple[Values, Values]:
    """Use without interval meter (cells x steps, L/s), and of it what customers' meters pass
    (customers x days, m3)."""
    cells = drawn.cells.index
    other = np.zeros((len(cells), len(days) * STEPS_A_DAY))
    customers = drawn.users.loc[drawn.users["role"] == "customer", "meter_id"]
    at = pd.Series(np.arange(len(customers)), index=customers.to_numpy())
    volumes = np.zeros((len(customers), len(days)))
    taps = drawn.taps[drawn.taps["use_class"].isin(set(settings.allowances))]
    for (cell, use_class), group in taps.groupby(["cell_id", "use_class"]):
        allowance = settings.allowances[str(use_class)]
        rate, _ = _rate(rng, str(use_class), allowance, days)
        metered = (group["meter_id"] != "").to_numpy()
        place = cells.get_indexer([cell])[0]
        for part in (group[~metered], group[metered]):
            properties = part["properties"].to_numpy(dtype=float)
            if not len(part):
                continue
            flow = bursts_l_s(rng, rate * properties.sum() / 3600.0, allowance)
            other[place] += flow
            if part["meter_id"].iloc[0]:
                daily = flow.reshape(len(days), -1).sum(axis=1) * STEP_S / 1000.0
                share = rng.standard_gamma(4.0 * properties[:, None], (len(part), len(days)))
                volumes[at[part["meter_id"]].to_numpy()] = daily * share / share.sum(axis=0)
    return other, volumes


def draw_buildings(rng: np.random.Generator, count: int, days: Values) -> Values:
    """Use of buildings with interval meters, buildings x steps, L/s."""
    form = course("commercial")
    flows = np.zeros((count, len(days) * STEPS_A_DAY))
    for place in range(count):
        size = rng.lognormal(np.log(0.15), 0.5)
        own = days * rng.normal(1.0, 0.08, len(days)).clip(0.5, 1.5)
        rate = 0.15 * size + size * own[:, None] * form
        flows[place] = bursts_l_s(rng, rate.ravel(), _BUILDING)
    return flows
