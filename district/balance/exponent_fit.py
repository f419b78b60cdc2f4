"""The exponent of a zone from nights of different pressure, told apart from leaks that came."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
import numpy.typing as npt
from scipy.special import stdtrit

from district.balance.noise import SCATTER
from district.estimates import Z_95, Array, Estimate, from_deviation

LEAST_CHANGE = 0.03
"""Change of the logarithm of night pressure that counts as one: less comes with every change of
use, by head lost, and would bend the fit."""
BLOCK_NIGHTS = 7
"""Nights averaged before and after a change at most: a whole week has every weekday once."""
HELD_NIGHTS = 3
"""Nights that pressure must hold before and after a change: what goes up and down from night to
night is head lost to use, which is then taken for leakage at a lower pressure."""
LEAST_PAIRS = 8
"""Fewer pairs of neighbouring blocks do not tell how far leakage wanders without pressure."""
REACH_NIGHTS = 7
"""Blocks further apart are not compared: leaks had time to come."""
AGREE = 2.5
"""Deviations by which the fit may move when its most telling change is left out."""
SURVEYED = (0.36, 2.95)
"""Lowest and highest exponent of 157 surveyed zones: Thornton, Sturm & Kunkel 2008, table 10.9."""
_TUNING = 1.345
"""Huber's, 95 % as good as least squares where the scatter is normal."""
_ROUNDS = 12
_Flags = npt.NDArray[np.bool_]


@dataclass(frozen=True)
class Fit:
    """An exponent and its standard deviation (its 95 % limit over 1.96), and what they are read
    from."""

    exponent: float
    deviation: float
    changes_count: int
    nights_count: int
    range_m: float

    def limits(self) -> Estimate:
        """The exponent with its 95 % limits."""
        return from_deviation(self.exponent, self.deviation)


@dataclass(frozen=True, eq=False)
class _Pairs:
    """Neighbouring blocks: number of the first, change of log leakage and log pressure, nights of
    each, and whether the second block of a pair is the first of the next."""

    at: npt.NDArray[np.intp]
    leakage: Array
    pressure: Array
    before: Array
    after: Array
    linked: _Flags

    def stepped(self) -> _Flags:
        return np.abs(self.pressure) >= LEAST_CHANGE

    def told(self) -> _Flags:
        return self.stepped() & (np.minimum(self.before, self.after) >= HELD_NIGHTS)


def fit_exponent(
    flow_l_s: Array,
    *,
    random_l_s: Array,
    systematic_l_s: Array,
    pressure_m: Array,
    spread_m: Array,
    loggers_count: Array,
    most_deviation: Any,
) -> Fit | str:
    """The exponent N1 of Q1/Q0 = (P1/P0)^N1 of one zone, or why the record does not tell it.

    Parameters, one value a night: leakage `flow_l_s`, NaN on nights not to be used; the random
    and systematic part of its standard deviation; night pressure, its 95 % limit and how many
    loggers it rests on. `most_deviation`: a fit less certain than this is not worth having.

    Runs of nights at one pressure are averaged in blocks of up to seven, and neighbouring blocks
    compared: a leak that starts or is mended changes leakage without pressure, so it only adds
    to the scatter, and growth from month to month nothing. A change counts where pressure holds
    before and after, as when a reducing valve is set or a supply changed over. The slope through
    the origin of log leakage on log pressure is found by Huber's weights, with the scatter of all
    pairs. One change alone could be a repair of the same day: without the most telling change the
    others must tell the exponent as well, and agree. Errors common to all nights, of the level of
    leakage (an allowance) and of pressure, scale the exponent and are put into its deviation.
    """
    chosen = np.flatnonzero(np.isfinite(flow_l_s) & (pressure_m > 0) & (loggers_count > 0))
    if len(chosen) < LEAST_PAIRS:
        return "Too few nights with leakage and pressure"
    pairs, count, blocks_m = _pairs(flow_l_s, random_l_s, pressure_m, loggers_count, chosen)
    told = pairs.told()
    if told.sum() < 2 or len(told) < LEAST_PAIRS:
        return "Night pressure did not step often enough to tell"
    mean = float(np.median(flow_l_s[chosen]))
    if mean <= 0:
        return "No leakage to follow the pressure"
    modelled = float(np.median(random_l_s[chosen])) / mean
    slope, deviation = _slope(pairs, told, modelled)
    fewer = told.copy()
    fewer[np.argmax(np.where(told, pairs.pressure**2 * _weights(pairs), -1.0))] = False
    other, other_deviation = _slope(pairs, fewer, modelled)
    common = np.hypot(
        np.median(systematic_l_s[chosen]) / mean,
        np.median(spread_m[chosen]) / Z_95 / np.median(pressure_m[chosen]),
    )
    whole = float(np.hypot(deviation, slope * common))
    if not max(other_deviation, whole) < most_deviation:
        return "Night pressure did not change enough to tell more than is usual"
    if abs(slope - other) > AGREE * other_deviation:
        return (
            "Changes of night pressure and of leakage do not agree, a leak may have come with one"
        )
    used = np.union1d(pairs.at[told], pairs.at[told] + 1)
    nights, reach = int(count[used].sum()), float(np.ptp(blocks_m[used]))
    return Fit(slope, whole, int(told.sum()), nights, reach)


def _pairs(
    flow: Array, random: Array, pressure: Array, loggers: Array, chosen: Any
) -> tuple[_Pairs, Array, Array]:
    """Pairs of blocks, and the nights and the pressure of each block."""
    log = np.log(pressure[chosen])
    moved = np.abs(np.diff(log)) > LEAST_CHANGE
    moved |= np.diff(loggers[chosen]) != 0
    apart = np.diff(chosen) > REACH_NIGHTS
    run = np.concatenate([[0], np.cumsum(moved | apart)])
    # Each run in equal parts, so that no change is left with a block of a night or two.
    first, length = np.searchsorted(run, run), np.bincount(run)[run]
    parts = -(-length // BLOCK_NIGHTS)
    part = (np.arange(len(run)) - first) * parts // length
    _, block = np.unique(run * len(run) + part, return_inverse=True)
    count = np.bincount(block).astype(float)

    def mean(values: Array) -> Array:
        return np.asarray(np.bincount(block, values) / count)

    level, height, number = mean(flow[chosen]), mean(log), mean(loggers[chosen])
    error = np.sqrt(np.bincount(block, random[chosen] ** 2)) / count
    start = np.flatnonzero(np.diff(block, prepend=-1))
    end = np.append(start[1:], len(block)) - 1
    clear = level > 2 * error
    near = chosen[start[1:]] - chosen[end[:-1]] <= REACH_NIGHTS
    good = np.flatnonzero(clear[1:] & clear[:-1] & near & (number[1:] == number[:-1]))
    logged = np.log(np.where(clear, level, 1.0))
    linked = np.diff(good) == 1
    pairs = _Pairs(
        good,
        np.diff(logged)[good],
        np.diff(height)[good],
        count[:-1][good],
        count[1:][good],
        linked,
    )
    return pairs, count, np.exp(height)


def _weights(pairs: _Pairs) -> Array:
    return np.asarray(1.0 / (1.0 / pairs.before + 1.0 / pairs.after))


def _slope(pairs: _Pairs, told: _Flags, modelled: float) -> tuple[float, float]:
    """Slope through the origin over the pairs `told`, and its 95 % limit over 1.96."""
    weight = _weights(pairs)
    x = np.where(told, pairs.pressure, 0.0)
    kept = told | ~pairs.stepped()
    quiet = np.where(kept, pairs.leakage, 0.0)
    huber = np.ones(len(x))
    slope, scatter = 0.0, modelled
    for _ in range(_ROUNDS):
        slope = float((weight * huber * x * quiet).sum() / (weight * huber * x * x).sum())
        standard = (quiet - slope * x) * np.sqrt(weight)
        scatter = max(modelled, SCATTER * float(np.median(np.abs(standard[kept]))), 1e-9)
        huber = np.minimum(1.0, _TUNING * scatter / np.maximum(np.abs(standard), 1e-12))
    share = weight * huber * x / (weight * huber * x * x).sum()
    own = (share**2 / weight).sum()
    # Two pairs that share a block share its error, with opposite sign.
    shared = -2.0 * (share[:-1] * share[1:] / pairs.after[:-1])[pairs.linked].sum()
    # Few pairs tell their own scatter badly: Student's limits in place of the normal ones.
    few = float(stdtrit(max(int(kept.sum()) - 1, 1), 0.975)) / Z_95
    return slope, float(few * scatter * np.sqrt(own + max(shared, 0.0)))
