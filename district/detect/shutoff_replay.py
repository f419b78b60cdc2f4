"""A history replayed with a valve of many settings: false trips, and what leaks would have lost.

The readings say how much passed in each interval, not how it ran within it. A use that is read as
n intervals above a flow lasted between n - 1 and n + 1 of them, or a little more. So a false trip
is counted where the run was one reading short of the time of the valve; the lower limit counts runs
as they were read. Water turned on again goes on, and trips the valve again: a run counts as often
as the time goes into it. So a higher flow, or a longer time, never trips more often.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import pandas as pd

from district.detect.poisson import rate_limits
from district.detect.shutoff_history import (
    HOUR_US,
    Bools,
    History,
    Reals,
    Runs,
    runs_above,
    within,
)
from district.detect.shutoff_leaks import (
    ASSUMED_L_S,
    ASSUMED_STARTS,
    UNNOTICED_H,
    Leak,
)
from district.units import M3_PER_L_S_H

YEAR_H = 8766.0
LEAST_L_S = 0.005
"""Lower flows are not offered: meters stand still or read wrong there. Common practice, no
source."""
LONGEST_TRIP_H = 24.0
"""Longer times are not offered: a burst would run as long. Common practice, no source."""
_STEPS = (2, 3, 4, 6, 8, 12, 16, 24, 32, 48, 64, 72, 96, 144, 192, 288, 576, 1440)
"""Times to trip at, in intervals: at least two, as one interval may be half of use."""
_FLOWS = 24
_TOLD = 1e-9
_TRIED = 13
"""Instants of its first half from which a past leak is tried."""


@dataclass(frozen=True, eq=False)
class Replay:
    """A valve of every setting; arrays of flows by times."""

    trip_l_s: Reals
    trip_h: Reals
    false_count: Reals
    false_least_count: Reals
    lost_m3: tuple[Reals, Reals, Reals]
    """What leaks would have lost, with 95 % limits."""
    leaked_m3: tuple[float, float, float]
    """What they lost without."""
    span_years: float


def trip_times_h(step_h: float) -> Reals:
    """Times that a history of such intervals can speak of, at most a day."""
    times = step_h * np.array(_STEPS, dtype=float)
    return np.asarray(times[times <= LONGEST_TRIP_H + _TOLD])


def trip_flows_l_s(
    history: History, leaks: Sequence[Leak], *, free: Bools, resolution_m3: float
) -> Reals:
    """Flows to try, two digits each, from what the meter can show to more than ever ran.

    `resolution_m3` is the smallest volume that the meter shows, NaN if it is not known.
    """
    most = float(history.flow_l_s[free].max(initial=0.0))
    pulse = resolution_m3 / history.step_h() / M3_PER_L_S_H if resolution_m3 > 0 else 0.0
    least = max(LEAST_L_S, pulse)
    flows = np.geomspace(least, max(1.1 * most, 2 * least), _FLOWS).tolist()
    for leak in leaks:
        mean_l_s = leak.volume_m3[0] / M3_PER_L_S_H / leak.hours()
        flows += [share * mean_l_s for share in (0.5, 0.75, 0.9)]
    shown = sorted({float(f"{flow:.2g}") for flow in flows})
    return np.array([flow for flow in shown if flow >= least - _TOLD])


def replayed(
    history: History, leaks: Sequence[Leak], *, free: Bools, resolution_m3: float
) -> Replay:
    """Every setting tried on the history; `free` says which intervals hold no leak and no work.

    Without a leak the assumed ones are let begin at instants spread over the history.
    """
    flows = trip_flows_l_s(history, leaks, free=free, resolution_m3=resolution_m3)
    times = trip_times_h(history.step_h())
    step_us = history.step_h() * HOUR_US
    counts, least = (np.zeros((len(flows), len(times))) for _ in range(2))
    lost = [np.zeros((len(flows), len(times))) for _ in range(3)]
    starts = _spread(history, free)
    for n, flow in enumerate(flows):
        runs = runs_above(history, flow, among=free)
        by_length = np.unique(runs.length_us, return_counts=True)
        lengths, often = (part.astype(float) for part in by_length)
        counts[n] = _trips(lengths + step_us, often, times)
        least[n] = _trips(lengths, often, times)
        if leaks:
            told = _of_past(history, leaks, float(flow), times)
        else:
            told = _of_assumed(history, starts, float(flow), times, free)
        for limit, volume in zip(lost, told, strict=True):
            limit[n] = volume
    if leaks:
        summed = np.array([leak.volume_m3 for leak in leaks]).sum(axis=0)
        leaked = (float(summed[0]), float(summed[1]), float(summed[2]))
    else:
        leaked = (sum(ASSUMED_L_S.values()) * M3_PER_L_S_H * UNNOTICED_H,) * 3
    years = history.read_h(free) / YEAR_H
    return Replay(flows, times, counts, least, (lost[0], lost[1], lost[2]), leaked, years)


def settings_table(replay: Replay) -> pd.DataFrame:
    """Every setting as a row, columns as in SHUTOFF_CURVE without device and advice."""
    flow, time = np.meshgrid(replay.trip_l_s, replay.trip_h, indexing="ij")
    years = replay.span_years
    low, high = rate_limits(replay.false_least_count, replay.false_count, span_year=years)
    lost, lost_low, lost_high = replay.lost_m3
    columns = {
        "trip_l_s": flow,
        "trip_h": time,
        "false_trips_per_year": replay.false_count / years,
        "false_trips_per_year_low": low,
        "false_trips_per_year_high": high,
        "leaked_with_m3": lost,
        "leaked_with_m3_low": lost_low,
        "leaked_with_m3_high": lost_high,
    }
    return pd.DataFrame({name: values.ravel() for name, values in columns.items()})


def unbettered(settings: pd.DataFrame) -> pd.DataFrame:
    """The settings that no other betters in false trips and water lost alike, fewest trips first.

    Of equal ones the first by the least upper limit, then the shortest time, then the highest flow.
    """
    ordered = settings.assign(
        less=-settings["trip_l_s"], lost=settings["leaked_with_m3"].round(6)
    ).sort_values(
        ["false_trips_per_year", "lost", "false_trips_per_year_high", "trip_h", "less"],
        kind="stable",
    )
    best_before = ordered["lost"].cummin().shift(fill_value=np.inf)
    kept = ordered[ordered["lost"] < best_before]
    return kept.drop(columns=["less", "lost"]).reset_index(drop=True)


def _trips(lengths_us: Reals, often: Reals, times_h: Reals) -> Reals:
    """How often runs of these lengths trip a valve of each time."""
    each = np.floor(lengths_us[:, None] / (times_h[None, :] * HOUR_US) + _TOLD)
    return np.asarray((each * often[:, None]).sum(axis=0))


def _of_past(
    history: History, leaks: Sequence[Leak], flow_l_s: float, times_h: Reals
) -> tuple[Reals, Reals, Reals]:
    """What the leaks of the past would have lost with the valve, by its time.

    A leak does not choose its hour: the valve is tried from instants over its first half, and
    where it never trips the whole is lost. A growing one is tried from its beginning alone.
    """
    value, low, high = (np.zeros(len(times_h)) for _ in range(3))
    for leak in leaks:
        runs = runs_above(history, flow_l_s, among=within(history, leak.span))
        begin, end = leak.span
        ran_h = leak.hours()
        count, power = (1, 2) if leak.grows else (_TRIED, 1)
        tried = np.linspace(begin, (begin + end) / 2, count)
        for n, time_h in enumerate(times_h):
            trips = _first_trip(runs, tried, time_h)
            hours = np.where(np.isfinite(trips), (trips - tried) / HOUR_US, ran_h)
            each = (hours.mean(), hours.min(), hours.max() + leak.earlier_h)
            for limit, volume, ran in zip((value, low, high), leak.volume_m3, each, strict=True):
                limit[n] += volume * min(ran / ran_h, 1.0) ** power
    return value, low, high


def _of_assumed(
    history: History, starts_us: Reals, flow_l_s: float, times_h: Reals, free: Bools
) -> tuple[Reals, Reals, Reals]:
    """What the assumed leaks would lose with the valve: mean, and 95 % range by when they begin."""
    summed = np.zeros((len(starts_us), len(times_h)))
    for size_l_s in ASSUMED_L_S.values():
        if size_l_s > flow_l_s:
            hours = np.broadcast_to(np.minimum(times_h, UNNOTICED_H), summed.shape)
        else:
            # Only while use comes on top is it above the flow of the valve.
            runs = runs_above(history, flow_l_s - size_l_s, among=free)
            trips = np.column_stack([_first_trip(runs, starts_us, t) for t in times_h])
            hours = np.minimum((trips - starts_us[:, None]) / HOUR_US, UNNOTICED_H)
        summed += size_l_s * M3_PER_L_S_H * hours
    low, high = np.quantile(summed, [0.025, 0.975], axis=0)
    mean = summed.mean(axis=0)
    return mean, np.minimum(low, mean), np.maximum(high, mean)


def _first_trip(runs: Runs, from_us: Reals, time_h: float) -> Reals:
    """When a valve of this time first trips after each instant; infinity where it never does."""
    time_us = time_h * HOUR_US
    long = runs.length_us >= time_us - 1
    start = runs.start_us[long].astype(float)
    end = start + runs.length_us[long]
    at = np.searchsorted(end, from_us + time_us - 1)
    begun = np.append(start, np.inf)[at]
    return np.asarray(np.maximum(begun, from_us) + time_us)


def _spread(history: History, free: Bools) -> Reals:
    """Instants spread evenly over the intervals without a leak."""
    at = np.flatnonzero(free)
    if not len(at):
        return np.empty(0)
    chosen = at[np.linspace(0, len(at) - 1, ASSUMED_STARTS).astype(int)]
    return np.asarray(history.start_us[chosen], dtype=float)
