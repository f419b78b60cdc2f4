"""How fast leakage rises when nobody looks for it, from the record itself."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise
from typing import Any

import numpy as np
import pandas as pd

from district.balance.grids import wide
from district.balance.limits import MEDIAN_FACTOR, Z_95, Array, Estimate, from_deviation
from district.balance.noise import SCATTER, night_scatter_l_s
from district.balance.summary import usable_nights
from district.units import M3_PER_L_S_H
from district.words import plural

YEAR_D = 365.0
WEEK_NIGHTS = 7
NIGHTS_A_WEEK = 3
"""A week with fewer usable nights tells no level."""
LEAST_WEEKS = 26
"""Half a year: over less, one leak or one dry month is the whole rise."""
SEASON_WEEKS = 47
"""From this many weeks on, the record begins and ends in about the same season."""
END_WEEKS = 4
STEP_DEVIATIONS, REPAIR_DEVIATIONS = 4.0, 2.0
"""A change from week to week beyond so many of its standard deviations is a step; a fall in a week
with a recorded repair needs less."""
KNOWN_WITHIN_D = 60.0
"""A leak repaired this soon after it broke out was reported by somebody: no survey found it."""
SEASON_SHARE = 0.1
"""95 % limit of what night use changes with the season, as a share of it; no source."""


@dataclass(frozen=True, eq=False)
class Rise:
    """Rate of rise of each cell, m3/d a year (NaN where not known), and what to say of it."""

    rate: Estimate
    notes: tuple[str, ...]


@dataclass(frozen=True)
class Steps:
    """How many falls were taken for repairs, and how many of these of leaks that were known."""

    falls: int
    known: int


def rates_of_rise(nights: pd.DataFrame, cells: pd.Index[Any]) -> Rise:
    """The rate of rise of leakage of each cell, from table NIGHTS.

    Levels are medians of the week's usable nights. Falls, which are repairs, are put back, so that
    what remains is all that broke out or grew; a leak that was repaired within 60 days of its
    outbreak made itself known and is taken out again, for the rate is of what only a survey finds.
    The rate is the median of the last four weeks less that of the first four, over the time
    between. Its limits hold the noise of the levels and steps, the season where the record is
    shorter than a year, and chance: a year of few leaks says little of the next (variance of a
    compound Poisson process, the sum of the squares of the outbreaks). A record of fewer than 26
    weeks tells no rate.
    """
    usable = usable_nights(nights, cells)
    flow = np.where(usable, wide(nights, "leakage_m3_d", cells), np.nan)
    codes, kinds = pd.factorize(nights["works"])
    told = np.array([*("repair" in str(kind) for kind in kinds), False], dtype=bool)[codes]
    repairs = pd.DataFrame(told.reshape(len(cells), -1).T)
    use = np.where(usable, wide(nights, "legitimate_use_l_s", cells), np.nan)
    scatter = night_scatter_l_s(flow, usable=usable) if len(flow) > 1 else np.zeros(len(cells))
    # Counted from the last night back, so that the newest week is whole.
    back = np.arange(len(flow))[::-1] // WEEK_NIGHTS
    week = back.max(initial=0) - back
    table = pd.DataFrame(flow)
    enough = table.groupby(week).count().to_numpy() >= NIGHTS_A_WEEK
    level = np.where(enough, table.groupby(week).median().to_numpy(dtype=float), np.nan)
    repaired = repairs.groupby(week).any().to_numpy(dtype=bool)
    values, deviations, notes = [], [], []
    for at in range(len(cells)):
        known = np.isfinite(level[:, at]) if len(level) else np.zeros(0, dtype=bool)
        count = int(known.sum())
        if count < LEAST_WEEKS:
            values.append(np.nan)
            deviations.append(np.nan)
            notes.append(
                f"not known: {plural(count, 'week')} with {NIGHTS_A_WEEK} usable nights or more, "
                f"{LEAST_WEEKS} are needed"
            )
            continue
        number = np.flatnonzero(known)
        seasonal = SEASON_SHARE * float(np.nanmean(use[:, at])) * M3_PER_L_S_H * 24.0
        rate, deviation, steps = rate_of_rise(
            level[known, at],
            week_number=number,
            noise_m3_d=MEDIAN_FACTOR * scatter[at] / np.sqrt(WEEK_NIGHTS),
            repaired=np.array([repaired[a : b + 1, at].any() for a, b in pairwise(number)]),
            season_m3_d=0.0 if np.ptp(number) + 1 >= SEASON_WEEKS else seasonal / Z_95,
        )
        values.append(rate)
        deviations.append(deviation)
        notes.append(_said(number, steps))
    return Rise(from_deviation(values, deviations), tuple(notes))


def rate_of_rise(
    level_m3_d: Array,
    *,
    week_number: Any,
    noise_m3_d: float,
    repaired: Any,
    season_m3_d: float = 0.0,
) -> tuple[float, float, Steps]:
    """Rate of rise and its standard deviation, m3/d a year, and the steps that were found.

    Parameters: `level_m3_d` a level a week in order of time, none missing; `week_number` of each;
    `noise_m3_d` standard deviation of a level (more where the levels themselves show more);
    `repaired` true where a repair is recorded between a level and the next; `season_m3_d`
    standard deviation of what the season changes between the ends.
    """
    change = np.diff(level_m3_d)
    shown = SCATTER * float(np.median(np.abs(change - np.median(change)))) / np.sqrt(2.0)
    noise = max(noise_m3_d, shown)
    unit = np.sqrt(2.0) * noise + 1e-9
    fall = change < -np.where(repaired, REPAIR_DEVIATIONS, STEP_DEVIATIONS) * unit
    jump = change > STEP_DEVIATIONS * unit
    free = set(np.flatnonzero(jump).tolist())
    matched = []
    days = np.asarray(week_number, dtype=float) * WEEK_NIGHTS
    for at in np.flatnonzero(fall):
        size = -change[at]
        near = [
            j
            for j in free
            if j < at and days[at] - days[j] <= KNOWN_WITHIN_D and size / 2 <= change[j] <= size * 2
        ]
        if near:
            matched.append(max(near))
            free.remove(max(near))
    step = np.where(fall, -change, 0.0)
    step[matched] -= change[matched]
    steady = level_m3_d + np.concatenate([[0.0], np.cumsum(step)])
    between = float(days[-END_WEEKS:].mean() - days[:END_WEEKS].mean()) / YEAR_D
    rise = float(np.median(steady[-END_WEEKS:]) - np.median(steady[:END_WEEKS]))
    count = int(fall.sum()) + len(matched)
    # Rises in weeks that follow one another are one leak that grows.
    run = np.cumsum(np.diff(sorted(free), prepend=-1) > 1)
    stayed = float((np.bincount(run, weights=change[sorted(free)]) ** 2).sum())
    # Levels of neighbouring weeks wander together: four tell no more than one.
    variance = 2.0 * noise**2 * (1 + count) + season_m3_d**2 + stayed
    steps = Steps(int(fall.sum()), len(matched))
    return rise / between, float(np.sqrt(variance)) / between, steps


def _said(number: Any, steps: Steps) -> str:
    said = [f"from {plural(len(number), 'week')}"]
    if steps.falls:
        said.append(f"{plural(steps.falls, 'fall')} taken for repairs")
    if steps.known:
        said.append(
            f"{plural(steps.known, 'leak')} repaired within {KNOWN_WITHIN_D:.0f} days left out"
        )
    if np.ptp(number) + 1 < SEASON_WEEKS:
        said.append("less than a year, so the season is in the limits")
    return "; ".join(said)
