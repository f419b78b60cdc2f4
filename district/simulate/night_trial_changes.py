"""What may change the night flow of two neighbouring zones, put on their water or their meters."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from district.simulate.night_trial_course import Values
from district.simulate.night_trial_hours import HOURS, ZoneHours

CHANGES = {
    "step": "leak",
    "growth": "growing_leak",
    "reads_more": "meter_fault",
    "between_off": "meter_fault",
    "drift": "meter_fault",
    "stuck": "meter_fault",
    "customer": "use",
    "pool": "use",
    "irrigation": "use",
    "construction": "use",
    "valve": "boundary",
}
"""What happens, and which of `CAUSE_KINDS` that is."""
NESTED = ("between_off",)
"""Only where the second zone is fed through the first."""
_DAY_H = 24.0


@dataclass(frozen=True, eq=False)
class Changed:
    """Change of two zones, shapes (2, days, 24): water in L/s, what meter 1 and 2 read as a share
    of the truth, and whether they stand still (`still`). `position` of the first night changed, on
    which the night flow of `zone` rises."""

    water_l_s: Values
    read_share: Values
    still: NDArray[np.bool_]
    zone: int
    position: int


def put_on(
    rng: np.random.Generator,
    change: str,
    zones: tuple[ZoneHours, ZoneHours],
    days: pd.DatetimeIndex,
    *,
    position: int,
    nested: bool,
) -> Changed:
    """Draw a change of kind `change` that begins with night `position` or up to some days later.

    Sizes: 15 to 60 % of the night flow of the zone (a growing leak and use to twice that); meters
    off by 5 to 30 %. Raises `KeyError` for a change that is none of `CHANGES`.
    """
    water, share, still, since = _blank(rng, days, position)
    zone = int(rng.integers(0, 2))
    if nested and change in ("reads_more", "drift", "stuck"):
        zone = 0  # the inlet; a fault of the meter between is a change of its own
    own = zones[zone]
    size = own.night_l_s() * float(rng.uniform(0.15, 0.6))
    kind = CHANGES[change]
    if kind in ("leak", "growing_leak"):
        course = since
        if kind == "growing_leak":
            size *= float(rng.uniform(1.0, 2.0))
            course = since * _risen(len(days), position, len(days) - position)
        water[zone] = size * course * own.pressure ** float(rng.uniform(0.5, 1.5))
    elif kind == "use":
        on, position = _in_use(rng, change, days, position)
        size *= float(rng.uniform(1.0, 2.0))
        water[zone] = size * on * rng.lognormal(0.0, 0.1, (len(days), HOURS))
    elif kind == "boundary":
        size = min(z.night_l_s() for z in zones) * float(rng.uniform(0.15, 0.6))
        by_hour = 1.0 + rng.uniform(-0.3, 0.3) * np.cos(2 * np.pi * (np.arange(HOURS) - 3) / _DAY_H)
        through = size * since * by_hour / by_hour[2:4].mean()
        through = through * rng.lognormal(0.0, 0.03, through.shape)
        water[zone], water[1 - zone] = through, -through
    elif change == "between_off":
        off = float(rng.uniform(0.05, 0.3)) * float(rng.choice([-1.0, 1.0]))
        share[1] += off * since
        zone = int(off > 0)
    elif change == "stuck":
        # At what it reads in an hour of the day before: by day more than at night.
        still[zone, position - 1, int(rng.integers(7, 22)) :] = True
        still[zone, position:] = True
    elif change == "drift":
        share[zone] += rng.uniform(0.1, 0.3) * _risen(len(days), position, len(days) - position)
    else:
        share[zone] += rng.uniform(0.05, 0.3) * since
    return Changed(water, share, still, zone, position)


def _blank(
    rng: np.random.Generator, days: pd.DatetimeIndex, position: int
) -> tuple[Values, Values, NDArray[np.bool_], Values]:
    """Nothing changed; and since when, 0 to 1: from an hour of the day before `position` on."""
    count = len(days)
    hour = np.arange(count * HOURS).reshape(count, HOURS)
    begun = position * HOURS - int(rng.integers(-1, 19))
    since = (hour >= begun).astype(float)
    shape = (2, count, HOURS)
    return np.zeros(shape), np.ones(shape), np.zeros(shape, dtype=bool), since


def _risen(count: int, position: int, nights: int) -> Values:
    """0 to 1 over `nights` from `position` on, by the hour."""
    hour = np.arange(count * HOURS).reshape(count, HOURS) / HOURS
    return np.clip((hour - position + 1) / nights, 0.0, 1.0)


def _in_use(
    rng: np.random.Generator, change: str, days: pd.DatetimeIndex, position: int
) -> tuple[Values, int]:
    """Course of a new use, days x 24, about 1 on its nights; and its first night."""
    count = len(days)
    weekday = days.day_of_week.to_numpy()
    hours = np.zeros(HOURS)
    after = np.arange(count) >= position
    if change == "irrigation":
        hours[int(rng.integers(0, 3)) : int(rng.integers(4, 7))] = 1.0
        on = np.isin(weekday, [*rng.choice([0, 1, 2], replace=False, size=1), 0, 2, 4])
        on = after & (on if rng.random() < 0.5 else True)
    elif change == "pool":
        hours[:] = 1.0
        on = after & (np.arange(count) < position + int(rng.integers(3, 7)))
    elif change == "construction":
        hours[:], hours[6:18] = 0.6, 1.8
        on = after & (weekday < 5)
    else:
        hours[:], hours[6:20] = 1.0, float(rng.uniform(1.5, 4.0))
        if rng.random() < 0.5:  # a night shift
            hours[:6] = 1.0
            hours[6:22] = float(rng.uniform(0.0, 0.4))
        on = after & ((weekday < 5) | (rng.random() < 0.4))
    first = int(np.flatnonzero(on)[0])
    return on[:, None] * hours, first
