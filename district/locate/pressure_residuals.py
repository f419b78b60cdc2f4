"""What the loggers did beyond what the measured flows explain, day by day, and its change."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from district.hydraulics.model import Flags, Reals
from district.locate.pressure_days import FEWEST_DAYS, Windows
from district.locate.pressure_hours import BLOCKS_COUNT, Hours, by_day_and_block, by_hour


@dataclass(frozen=True, eq=False)
class Left:
    """Days, B blocks, G loggers.

    change_m (B, G)
        change of head that the flows do not explain, at the leak's full size.
    before_m, after_m (days, B x G)
        what is left on each day of either window once that change is taken out, mean 0.
    weight (days)
        of each day in the change; they sum to 0.
    read (G)
        loggers with enough days on both sides.
    """

    change_m: Reals
    before_m: Reals
    after_m: Reals
    weight: Reals
    read: Flags


@dataclass(frozen=True, eq=False)
class Drawing:
    """Flows in B blocks of the day: of each node (B, N), and of it the use of each cell (B, C) that
    no meter reads by the hour."""

    node_l_s: Reals
    use_l_s: Reals


def unexplained(hours: Hours, sensitivity: Reals, compared: Windows) -> Left:
    """Departures of the loggers from the measured flows, and their change with the leak.

    Parameters: `sensitivity` (B, G, N), m of head for each L/s more drawn at each node. Every
    hour is held against the mean of that hour of the day over both windows, so that a missing
    hour shifts nothing.
    """
    days = len(compared.course)
    daily = left_by_flows(hours, sensitivity, days).reshape(days, -1)
    side = len(compared.before)
    known = np.isfinite(daily).reshape(days, BLOCKS_COUNT, -1)
    enough = [
        (part.sum(axis=0) >= FEWEST_DAYS).all(axis=0) for part in (known[:side], known[side:])
    ]
    weight = slope_weight(compared.course)
    daily, slope = _filled(daily, compared.course, weight)
    left = daily - np.outer(compared.course, slope)
    before, after = left[:side], left[side:]
    return Left(
        slope.reshape(BLOCKS_COUNT, -1),
        before - before.mean(axis=0),
        after - after.mean(axis=0),
        weight,
        enough[0] & enough[1],
    )


def left_by_flows(hours: Hours, sensitivity: Reals, days_count: int) -> Reals:
    """Departures of the heads from their mean at that hour that those of the flows do not explain,
    (days, B, G); NaN where under half of a block was read."""
    drawn = hours.drawn_l_s - by_hour(hours.drawn_l_s, hours.hour)[hours.hour]
    head = hours.pressure_m - by_hour(hours.pressure_m, hours.hour)[hours.hour]
    block = hours.block[hours.hour]
    for b in range(BLOCKS_COUNT):
        head[block == b] -= drawn[block == b] @ sensitivity[b].T
    return by_day_and_block(head, hours, days_count)


def slope_weight(course: Reals) -> Reals:
    """Weights of days whose sum is the least-squares slope on `course`; a step's are two means."""
    centred = course - course.mean()
    return np.asarray(centred / (centred @ centred))


def drawings(hours: Hours, compared: Windows) -> tuple[Drawing, Drawing]:
    """What is drawn halfway through the change, and its change."""
    node_middle, node_change = _middle_and_change(hours.drawn_l_s, hours, compared)
    use_middle, use_change = _middle_and_change(hours.use_l_s, hours, compared)
    return Drawing(node_middle, use_middle), Drawing(node_change, use_change)


def _middle_and_change(values: Reals, hours: Hours, compared: Windows) -> tuple[Reals, Reals]:
    daily = by_day_and_block(values, hours, len(compared.course))
    flat = daily.reshape(len(daily), -1)
    flat, slope = _filled(flat, compared.course, slope_weight(compared.course))
    middle = (flat - np.outer(compared.course, slope)).mean(axis=0) + slope / 2
    return middle.reshape(daily.shape[1:]), slope.reshape(daily.shape[1:])


def _filled(daily: Reals, course: Reals, weight: Reals) -> tuple[Reals, Reals]:
    """Missing days as the rest of their series would have them, and each series' slope."""
    known = np.isfinite(daily)
    start = np.where(known.any(axis=0), np.nansum(np.where(known, daily, 0.0), axis=0), 0.0)
    level = start / np.maximum(known.sum(axis=0), 1)
    slope = np.zeros(daily.shape[1])
    full = daily
    for _ in range(1 if known.all() else 30):
        full = np.where(known, daily, level + np.outer(course, slope))
        slope = weight @ full
        level = (full - np.outer(course, slope)).mean(axis=0)
    return full, slope
