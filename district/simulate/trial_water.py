"""The true water of a trial district: use, pressure and leakage, before any meter.

Every parameter is drawn from what the settings state of it, because limits can be right only
over the population they speak of.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
import pandas as pd

from district.settings import Settings
from district.simulate.trial_map import TRUNK, TrialMap
from district.simulate.trial_use import (
    LIMIT,
    STEPS_A_DAY,
    Values,
    common_days,
    course,
    draw_buildings,
    draw_use,
)

_EXCEPTIONAL = slice(4, 20)
"""Steps in which an exceptional night user draws, 01:00 to 05:00."""
FACTOR_H_D = (18.0, 24.0, 26.0)
"""Night-to-day factors where no logger is, as the balance assumes them: low, usual, high."""


@dataclass(frozen=True, eq=False)
class Leaks:
    """How many leaks run and how large they are, at a zone's usual night pressure.

    `per_zone_count` expected over the record, `median_l_s` of their log-normal size.
    """

    per_zone_count: float = 1.0
    median_l_s: float = 0.15


@dataclass(frozen=True, eq=False)
class Water:
    """True flows in steps of 15 minutes (T steps); cells in the order of the map.

    leakage_l_s, other_l_s
        cells x T: all leakage; use without interval meter, and water of works.
    building_l_s
        users of role building x T, in the order of the map's `users`.
    customer_m3
        customers with a meter x days: part of `other_l_s`.
    pressure_m
        cells x days x 24: average zone pressure.
    loss_m
        the same: by how much it lies below that of the night.
    leaks, works, zones
        tables: leaks (cell_id, start, end, flow_l_s), works (table WORKS), the drawn parameters.
    """

    leakage_l_s: Values
    other_l_s: Values
    building_l_s: Values
    customer_m3: Values
    pressure_m: Values
    loss_m: Values
    leaks: pd.DataFrame
    works: pd.DataFrame
    zones: pd.DataFrame


def draw_water(
    rng: np.random.Generator,
    drawn: TrialMap,
    *,
    settings: Settings,
    nights: pd.DatetimeIndex,
    leaks: Leaks,
) -> Water:
    """Draw the record of all cells."""
    days = common_days(rng, nights)
    other, customer = draw_use(rng, drawn, settings, days)
    cells = drawn.cells.index
    for extra in settings.exceptional_use:
        flow = extra.flow_l_s * (1.0 + rng.normal() * extra.spread_share / LIMIT)
        early = other[cells.get_indexer([extra.zone_id])[0]].reshape(len(nights), -1)
        early[:, _EXCEPTIONAL] += max(flow, 0.0)
    other += _unbilled(rng, other, settings)
    pressure, loss, zones = _pressures(rng, drawn, settings, days)
    table = _leak_table(rng, cells, len(nights), leaks)
    background = _background_l_s(drawn, settings, zones)
    zones["background_l_s"] = background
    running = background[:, None] + _leak_courses(table, len(cells), len(nights))
    night_m = zones["night_pressure_m"].to_numpy()[:, None, None]
    power = (pressure / night_m) ** zones["exponent"].to_numpy()[:, None, None]
    leakage = running * np.repeat(power.reshape(len(cells), -1), 4, axis=1)
    works = _works(rng, cells, nights, table, other)
    own = drawn.users["role"] == "building"
    table["cell_id"] = cells.to_numpy()[table["cell"].to_numpy(dtype=int)]
    return Water(
        leakage,
        other,
        draw_buildings(rng, int(own.sum()), days),
        customer,
        pressure,
        loss,
        table.drop(columns="cell"),
        works,
        zones,
    )


def _pressures(
    rng: np.random.Generator, drawn: TrialMap, settings: Settings, days: Values
) -> tuple[Values, Values, pd.DataFrame]:
    """Average pressure by cell, day and hour: falls with demand as head loss does."""
    cells, p = drawn.cells.index, settings.pressure
    logged = cells.isin(drawn.loggers["cell_id"])
    count = len(cells)
    unknown = rng.normal(p.assumed_m, p.assumed_spread_m / LIMIT, count)
    night_m = np.where(logged, rng.normal(45.0, 8.0, count), unknown).clip(10.0)
    exponent = skewed(rng, (p.exponent_low, p.exponent, p.exponent_high), count).clip(0.2)
    demand = course("household").reshape(24, 4).mean(axis=1)
    form = (demand / demand.max()) ** 1.85
    fall = rng.uniform(0.0, 0.35, count)
    fall = np.where(logged, fall, _fall(form, exponent, skewed(rng, FACTOR_H_D, count)))
    by_day = days * rng.normal(1.0, 0.03, (count, len(days)))
    share = (fall[:, None, None] * by_day[:, :, None] ** 1.85 * form).clip(max=0.9)
    top = night_m[:, None] + rng.normal(0.0, 0.4, (count, len(days)))
    loss = share * top[:, :, None]
    zones = pd.DataFrame(
        {
            "cell_id": cells.to_numpy(),
            "night_pressure_m": night_m,
            "exponent": exponent,
            "fall_share": fall,
            "condition_factor": skewed(
                rng,
                (
                    settings.background.condition_factor_low,
                    settings.background.condition_factor,
                    settings.background.condition_factor_high,
                ),
                count,
            ).clip(0.1),
        }
    )
    return top[:, :, None] - loss, loss, zones


def _unbilled(rng: np.random.Generator, other: Values, settings: Settings) -> Values:
    """Unbilled unmetered and unauthorised use: assumed shares of what is drawn, by day only.

    The balance counts no night use for either, and takes both as shares of the whole input, of
    which leakage is a part: a little less is drawn here.
    """
    a = settings.annual
    shares = np.array([a.unbilled_unmetered_share, a.unauthorised_share])
    drawn = shares * np.maximum(1.0 + rng.normal(size=2) * a.assumed_spread_share / LIMIT, 0.0)
    form = np.tile(course("household"), other.shape[1] // STEPS_A_DAY)
    return np.asarray(drawn.sum() * other.mean(axis=1, keepdims=True) * form)


def skewed(rng: np.random.Generator, limits: tuple[float, float, float], size: int) -> Values:
    """Draws with these 95 % limits (low, value, high) about a median of `value`."""
    low, value, high = limits
    z = rng.normal(size=size) / LIMIT
    return np.asarray(value + z * np.where(z < 0, value - low, high - value))


def _fall(form: Values, exponent: Values, factor_h_d: Values) -> Values:
    """The share by which pressure falls at the peak, so that the day has this factor (halving)."""
    low, high = np.full(len(exponent), -0.6), np.full(len(exponent), 0.9)
    for _ in range(40):
        middle = (low + high) / 2
        found = ((1.0 - middle[:, None] * form) ** exponent[:, None]).sum(axis=1)
        low, high = (
            np.where(found > factor_h_d, middle, low),
            np.where(found > factor_h_d, high, middle),
        )
    return np.asarray((low + high) / 2)


def _background_l_s(drawn: TrialMap, settings: Settings, zones: pd.DataFrame) -> Values:
    b, cells = settings.background, drawn.cells
    hourly = (
        b.mains_l_km_h * cells["mains_km"]
        + b.connection_l_connection_h * cells["connections_count"]
        + b.private_l_km_h * cells["private_km"]
    ).to_numpy()
    ratio = zones["night_pressure_m"].to_numpy() / 50.0
    factor = zones["condition_factor"].to_numpy()
    return np.asarray(hourly / 3600.0 * factor * ratio**b.exponent)


def _leak_table(
    rng: np.random.Generator, cells: pd.Index[Any], nights_count: int, leaks: Leaks
) -> pd.DataFrame:
    expected = np.where(cells == TRUNK, 0.3, 1.0) * leaks.per_zone_count
    cell = np.repeat(np.arange(len(cells)), rng.poisson(expected))
    start = rng.uniform(-40.0, nights_count, len(cell))
    start += 0.5 - (start % 1.0)  # Noon: no night is half one thing and half another.
    return pd.DataFrame(
        {
            "cell": cell,
            "start_d": start,
            "end_d": start + np.ceil(rng.lognormal(np.log(40.0), 0.6, len(cell))),
            "flow_l_s": leaks.median_l_s * rng.lognormal(0.0, 0.7, len(cell)),
            "growing_d": np.where(rng.random(len(cell)) < 0.3, 20.0, 0.0),
        }
    )


def _leak_courses(table: pd.DataFrame, cells_count: int, nights_count: int) -> Values:
    time_d = (np.arange(nights_count * STEPS_A_DAY) + 0.5) / STEPS_A_DAY
    running = np.zeros((cells_count, len(time_d)))
    for leak in table.itertuples():
        age = time_d - leak.start_d
        grown = np.clip(age / leak.growing_d, 0.1, 1.0) if leak.growing_d else 1.0
        running[leak.cell] += np.where((age >= 0) & (time_d < leak.end_d), leak.flow_l_s, 0) * grown
    return running


def _works(
    rng: np.random.Generator,
    cells: pd.Index[Any],
    nights: pd.DatetimeIndex,
    table: pd.DataFrame,
    other: Values,
) -> pd.DataFrame:
    """Repairs by day; a few nights of flushing, whose water is put into `other`."""
    ended = table[table["end_d"].between(0, len(nights) - 1)]
    rows = [
        (day + pd.Timedelta(hours=9), day + pd.Timedelta(hours=14), "repair", cells[cell])
        for day, cell in zip(nights[ended["end_d"].astype(int)], ended["cell"], strict=True)
    ]
    for place in np.flatnonzero(rng.random(len(cells)) < 0.4):
        night = int(rng.integers(0, len(nights)))
        first = night * STEPS_A_DAY + 4  # 01:00 to 04:30.
        other[place, first : first + 14] += rng.uniform(0.5, 3.0)
        begin = nights[night] + pd.Timedelta(hours=1)
        rows.append((begin, begin + pd.Timedelta(hours=3.5), "flushing", cells[place]))
    works = pd.DataFrame(rows, columns=["start", "end", "kind", "place_id"]).assign(note="")
    for side in ("start", "end"):
        works[side] = pd.to_datetime(works[side]).dt.tz_localize("UTC")
    return works
