"""How far the loggers' heads vary by themselves, as their days without any change tell it."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise
from typing import Any

import numpy as np
import pandas as pd

from district.hydraulics.model import Flags, Reals
from district.hydraulics.water import Demands, Drawn
from district.locate.pressure_days import FEWEST_DAYS, WINDOW_DAYS, Windows
from district.locate.pressure_hours import BLOCKS_COUNT, Hours, known_days, side_by_side
from district.locate.pressure_noise import change_noise, fitted
from district.locate.pressure_parts import variation
from district.locate.pressure_residuals import left_by_flows

MOST_DAYS = 56
"""Latest days looked at."""
_ASSUMED_SPREAD = 0.5
_DAY = pd.Timedelta(days=1)


@dataclass(frozen=True, eq=False)
class LoggerNoise:
    """Factors of the parts of variation, of G loggers.

    own (G)
        that of each logger alone; shared: those of the other parts, in the order of `variation`.
    log_spread
        standard deviation of the logarithm of the noise as a whole.
    days_count
        days it rests on; 0: on assumptions alone.
    """

    own: Reals
    shared: Reals
    log_spread: float
    days_count: int


def usual_hours(
    demands: Demands, pressures: pd.DataFrame, logger_id: Any
) -> tuple[Hours, pd.DatetimeIndex] | None:
    """Hours of the latest days with flows and pressures, and these days; None without any.

    Blocks of the day are those of the cell that draws most among those metered by the hour.
    """
    metered = metered_cells(demands)
    if not metered.any():
        return None
    drawn = np.full(len(metered), -np.inf)
    drawn[metered] = np.nanmean(demands.rest_l_s[:, metered], axis=0)
    most = int(np.argmax(drawn))
    days = known_days(demands, most, pressures).sort_values()[-MOST_DAYS:]
    if not len(days):
        return None
    compared = Windows(days, pd.DatetimeIndex([]), np.zeros(len(days)))
    hours = side_by_side(demands, most, pressures, logger_id, compared)
    every_block = len(np.unique(hours.block[hours.hour])) == BLOCKS_COUNT
    return (hours, days) if every_block else None


def metered_cells(demands: Demands) -> Flags:
    """Cells (C) whose inflow is metered by the hour; others are given one draw for all hours."""
    known = np.isfinite(demands.rest_l_s)
    low = np.where(known, demands.rest_l_s, np.inf).min(axis=0, initial=np.inf)
    high = np.where(known, demands.rest_l_s, -np.inf).max(axis=0, initial=-np.inf)
    return np.asarray(high > low)


def quiet_runs(days: pd.DatetimeIndex, events: pd.DataFrame) -> list[slice]:
    """Runs of days (in order) next to each other on which nothing that is on record changed.

    Parameters: `events` table EVENTS: the days over which one may have begun or ended part runs.
    """
    changed = np.zeros(len(days), dtype=bool)
    for low, high in [("start_low", "start_high"), ("end", "end")]:
        for first, last in zip(
            pd.to_datetime(events[low]), pd.to_datetime(events[high]), strict=True
        ):
            if pd.notna(first) and pd.notna(last):
                changed |= (days >= first) & (days <= last)
    apart = np.flatnonzero((np.diff(days) > _DAY) | changed[1:] | changed[:-1]) + 1
    edges = [0, *apart.tolist(), len(days)]
    runs = [slice(a, b) for a, b in pairwise(edges)]
    return [r for r in runs if r.stop - r.start >= FEWEST_DAYS]


def logger_noise(
    drawn: Drawn,
    demands: Demands,
    hours: Hours,
    runs: list[slice],
    sensitivity: Reals,
    use_l_s: Reals,
) -> LoggerNoise:
    """Fit the parts of variation to what the flows do not explain on quiet days.

    Parameters: `sensitivity` (B, G, N) of the loggers, `use_l_s` (B, N), `runs` of the days of
    `hours`. A logger that was not read on half of them counts as the mean of the others; a day
    that was not read as the logger's mean. Without runs the factors stay at their assumptions.
    """
    daily = left_by_flows(hours, sensitivity, int(hours.day.max()) + 1)
    quiet = np.concatenate([daily[:0], *(daily[r] for r in runs)])
    read = np.isfinite(quiet).mean(axis=(0, 1)) >= 0.5 if len(quiet) else np.zeros(0, dtype=bool)
    if not read.any():
        usual = np.array([p.usual for p in variation(drawn, demands, sensitivity, use_l_s)])
        loggers = sensitivity.shape[1]
        return LoggerNoise(usual[:loggers], usual[loggers:], _ASSUMED_SPREAD, 0)
    left = []
    for run in runs:
        window = daily[run][:, :, read].reshape(run.stop - run.start, -1)
        known = np.isfinite(window)
        mean = np.where(known, window, 0.0).sum(axis=0) / np.maximum(known.sum(axis=0), 1)
        left.append(np.where(known, window - mean, 0.0))
    factor = fitted(tuple(left), variation(drawn, demands, sensitivity[:, read], use_l_s))
    fit = factor[: int(read.sum())]
    own = np.full(len(read), fit.mean())
    own[read] = fit
    spread = float(1 / np.sqrt(2 * (len(quiet) - len(runs))))
    return LoggerNoise(own, factor[len(fit) :], spread, len(quiet))


def noise_of_change(
    told: LoggerNoise,
    drawn: Drawn,
    demands: Demands,
    sensitivity: Reals,
    use_l_s: Reals,
    *,
    have: Any,
    nights_count: int,
) -> Reals:
    """Covariance (n, n), blocks outermost, of the change from four weeks before to nights after.

    Parameters: `sensitivity` (B, G, N) of loggers and of places for more; `have` (G) position of
    each in `told`, -1 for a place, whose logger is taken to be as good as the mean of those there
    are.
    """
    parts = variation(drawn, demands, sensitivity, use_l_s)
    usual = float(told.own.mean()) if len(told.own) else parts[0].usual
    own = np.where(have >= 0, np.append(told.own, usual)[have], usual)
    weight = np.concatenate(
        [np.full(WINDOW_DAYS, -1 / WINDOW_DAYS), np.full(nights_count, 1 / nights_count)]
    )
    factor = np.concatenate([own, told.shared])
    return change_noise(parts, factor, weight, np.arange(len(weight), dtype=float))
