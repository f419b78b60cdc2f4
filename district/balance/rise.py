"""How fast leakage rises when nobody looks for it, from the record itself."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise
from typing import Any

import numpy as np
import pandas as pd
from scipy.special import gammaincinv

from district.balance.annual import YEAR_D
from district.balance.grids import wide
from district.balance.limits import MEDIAN_FACTOR
from district.balance.noise import SCATTER, night_scatter_l_s
from district.balance.summary import usable_nights
from district.estimates import Z_95, Array, Estimate
from district.units import M3_PER_L_S_H
from district.words import plural

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
    sizes_m3_d: tuple[float, ...]
    """Of the outbreaks that stayed."""


def rates_of_rise(nights: pd.DataFrame, cells: pd.Index[Any]) -> Rise:
    """The rate of rise of leakage of each cell, from table NIGHTS.

    Levels are medians of the week's usable nights. Falls, which are repairs, are put back, so that
    what remains is all that broke out or grew; a leak that was repaired within 60 days of its
    outbreak made itself known and is taken out again, for the rate is of what only a survey finds.
    The rate is the median of the last four weeks less that of the first four, over the time
    between. Its limits hold the noise of the levels and steps, the season where the record is
    shorter than a year, and chance: a year of few leaks says little of the next
    (`chance_limits`). A record of fewer than 26 weeks tells no rate.
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
    found: list[tuple[tuple[float, float, float], Steps] | None] = []
    for typical in (False, True):
        # Twice: what breaks out in one zone can break out in another that has not shown it yet.
        sizes = [x for one in found if one for x in one[1].sizes_m3_d]
        found = []
        for at in range(len(cells)):
            known = np.isfinite(level[:, at]) if len(level) else np.zeros(0, dtype=bool)
            number = np.flatnonzero(known)
            if len(number) < LEAST_WEEKS:
                found.append(None)
                continue
            seasonal = SEASON_SHARE * float(np.nanmean(use[:, at])) * M3_PER_L_S_H * 24.0
            one = rate_of_rise(
                level[known, at],
                week_number=number,
                noise_m3_d=MEDIAN_FACTOR * scatter[at] / np.sqrt(WEEK_NIGHTS),
                repaired=np.array([repaired[a : b + 1, at].any() for a, b in pairwise(number)]),
                season_m3_d=0.0 if np.ptp(number) + 1 >= SEASON_WEEKS else seasonal / Z_95,
                typical_m3_d=float(np.mean(sizes)) if typical and sizes else 0.0,
            )
            found.append(one)
    weeks = [np.flatnonzero(np.isfinite(x)) for x in level.T] if len(level) else [()] * len(cells)
    columns = np.array([one[0] if one else (np.nan,) * 3 for one in found], dtype=float)
    return Rise(
        Estimate(*columns.reshape(-1, 3).T),
        tuple(_said(w, one[1] if one else None) for w, one in zip(weeks, found, strict=True)),
    )


def rate_of_rise(
    level_m3_d: Array,
    *,
    week_number: Any,
    noise_m3_d: float,
    repaired: Any,
    season_m3_d: float = 0.0,
    typical_m3_d: float = 0.0,
) -> tuple[tuple[float, float, float], Steps]:
    """Rate of rise with its 95 % limits, m3/d a year, and the steps that were found.

    Parameters: `level_m3_d` a level a week in order of time, none missing; `week_number` of each;
    `noise_m3_d` standard deviation of a level (more where the levels themselves show more);
    `repaired` true where a repair is recorded between a level and the next; `season_m3_d`
    standard deviation of what the season changes between the ends; `typical_m3_d` an outbreak
    that could have come here and did not.
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
    # Rises in weeks that follow one another are one leak that grows.
    run = np.cumsum(np.diff(sorted(free), prepend=-1) > 1)
    sizes = np.bincount(run, weights=change[sorted(free)]).astype(float)
    sizes = sizes[sizes > 0]
    low, high = chance_limits(
        rise, sizes_m3_d=sizes, unseen_m3_d=STEP_DEVIATIONS * unit, typical_m3_d=typical_m3_d
    )
    # Levels of neighbouring weeks wander together: four tell no more than one.
    noise_variance = 2.0 * noise**2 * (1 + int(fall.sum()) + len(matched)) + season_m3_d**2
    below = np.hypot(rise - low, Z_95 * np.sqrt(noise_variance))
    above = np.hypot(high - rise, Z_95 * np.sqrt(noise_variance))
    steps = Steps(int(fall.sum()), len(matched), tuple(sizes))
    return (rise / between, (rise - below) / between, (rise + above) / between), steps


def chance_limits(
    rise_m3_d: float, *, sizes_m3_d: Array, unseen_m3_d: float, typical_m3_d: float = 0.0
) -> tuple[float, float]:
    """95 % limits of what a record of this length shows on average, when it shows this rise.

    Leaks break out at random, so a rise is a sum of sizes over a Poisson count: limits by gamma
    distributions (Fay & Feuer 1997, Confidence intervals for directly standardized rates,
    Statistics in Medicine 16, 791-801; from memory). Parameters: `sizes_m3_d` of the outbreaks
    that were seen; what else rose did so in outbreaks smaller than `unseen_m3_d`; the next may be
    the largest of these and of `typical_m3_d`.
    """
    rise = max(rise_m3_d, 0.0)
    hidden = max(rise - float(sizes_m3_d.sum()), 0.0)
    variance = float((sizes_m3_d**2).sum()) + hidden * unseen_m3_d / 2.0
    largest = max(float(sizes_m3_d.max(initial=0.0)), unseen_m3_d, typical_m3_d)

    low = _gamma(rise, variance, 0.025) if rise > 0 and variance > 0 else 0.0
    high = _gamma(rise + largest, variance + largest**2, 0.975)
    return min(low, rise_m3_d), max(high, rise_m3_d)


def _gamma(mean: float, spread: float, chance: float) -> float:
    """The quantile at `chance` of a gamma distribution with this mean and variance."""
    return float(spread / mean * gammaincinv(mean**2 / spread, chance))


def _said(number: Any, steps: Steps | None) -> str:
    if steps is None:
        return (
            f"not known: {plural(len(number), 'week')} with {NIGHTS_A_WEEK} usable nights or more, "
            f"{LEAST_WEEKS} are needed"
        )
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
