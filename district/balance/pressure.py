"""Average zone pressure and the night-to-day factor, with their limits."""

from __future__ import annotations

from typing import Any

import numpy as np
import pandas as pd

from district.balance.gauges import UNLEVELLED_SPREAD_M, gauged, with_gauge
from district.balance.grids import long, median_filled
from district.balance.leak_law import (
    LEAST_LEFT,
    REFERENCE_M,
    Form,
    Law,
    around,
    leakage_ratio,
    usual_law,
)
from district.estimates import Array, Estimate
from district.network import Network
from district.settings import Night, Pressure, Settings
from district.words import listed

FACTOR_UNKNOWN_H_D = (24.0, 18.0, 26.0)
"""Night-to-day factor (value, low, high) without hourly pressure: 24 is constant pressure; a
fall of a third by day gives 18 to 21, a zone raised a little by day by its reducing valve up to
26. Common practice, no source. A logger in another zone does not narrow it: a reducing valve
between the two flattens the daily course or turns it over."""
HOURS_NEEDED = 20
COURSE_SPREAD_SHARE = 0.3
"""95 % limit, either way, of how much deeper or flatter the zone's average falls by day than one
logger shows: one near the inlet sees less of the head lost. Common practice, no source."""


def night_day_factor_h_d(
    pressures_m: Any,
    *,
    night_pressure_m: Any,
    exponent: Any,
    form: Form = "power",
    head_m: Any = REFERENCE_M,
) -> Array:
    """Daily leakage over night leakage: the sum over 24 h of the hour's over the night's.

    Parameters: `pressures_m` hourly means, 24 along the first axis (NaN where missing: the mean
    of the others stands in); `night_pressure_m` of the remaining shape; `exponent`, `form` and
    `head_m` as of `leakage_ratio`. NaN where fewer than 20 hours are known or the night pressure
    is not above zero. Hours a day; 24 at constant pressure. Source: from memory, McKenzie 1999
    and the trade's usual practice.
    """
    hourly = np.maximum(np.asarray(pressures_m, dtype=float), 0.0)
    night = np.asarray(night_pressure_m, dtype=float)
    known = np.isfinite(hourly)
    with np.errstate(divide="ignore", invalid="ignore"):
        ratio = leakage_ratio(
            hourly, reference_m=night, exponent=exponent, form=form, head_m=head_m
        )
        mean = np.where(known, ratio, 0.0).sum(axis=0) / known.sum(axis=0)
    return np.where((known.sum(axis=0) >= HOURS_NEEDED) & (night > 0), 24.0 * mean, np.nan)


def zone_pressures(
    network: Network,
    hourly: pd.DataFrame,
    *,
    settings: Settings,
    cells: pd.Index[Any],
    days: pd.DatetimeIndex,
    law: Law | None = None,
) -> tuple[pd.DataFrame, tuple[str, ...]]:
    """Average pressure of each cell and day, from its loggers, and what was assumed.

    A logger's head (pressure + its level) less the connections' mean level is the zone's average
    pressure; without levels the logger's own pressure is used, without a logger the assumed one.
    `law` is how leakage follows pressure, by cell; that of the settings if not given.

    Limits of the factor, by variance: of the exponent, of the average pressure, and of how deep
    it falls by day; without hourly pressure a stated range.

    Returns a table, a row a cell and day: cell_id, day, night_pressure_m (mean over the night
    window), pressure_m (mean of the day), spread_m (95 % limit of both), loggers_count (that
    reported that night; 0 where the cell's median over the record stands in, or an assumption),
    night_day_factor_h_d with limits, rests_on (logger, logger_level_unknown, assumed).
    """
    dark = _window_hours(settings.night)
    shape = (len(days), len(cells))
    night, mean, count = np.full(shape, np.nan), np.full(shape, np.nan), np.zeros(shape)
    spread = np.full(shape, settings.pressure.assumed_spread_m)
    rests_on = np.full(len(cells), "assumed", dtype=object)
    factor = Estimate(*(np.full(shape, x) for x in FACTOR_UNKNOWN_H_D))
    # Most zones of a large district have no logger: nothing is reckoned hour by hour for them.
    at = with_gauge(network, cells)
    told = gauged(network, hourly, cells=cells[at], days=days, night=dark)
    night[:, at] = median_filled(_mean(told.by_hour_m[dark], least=1))
    mean[:, at] = median_filled(_mean(told.by_hour_m, least=HOURS_NEEDED))
    count[:, at] = told.loggers_count
    logged = ~np.isnan(night).all(axis=0)
    spread[:, at] = np.where(logged[at], told.spread_m, spread[:, at])
    rests_on[at] = np.where(logged[at], told.rests_on, rests_on[at])
    night = np.where(logged, night, settings.pressure.assumed_m)
    mean = np.where(np.isnan(mean), night, mean)
    law = _of_cells(law or usual_law(settings.pressure), at)
    found = _factor(told.by_hour_m, night[:, at], told.spread_m, told.loggers_count, law)
    for whole, part in zip(factor, found, strict=True):
        whole[:, at] = np.where(np.isnan(found.value), whole[:, at], part)
    unknown = np.full(len(cells), bool(len(days)))
    unknown[at] = np.isnan(found.value).any(axis=0)
    table = long(
        cells,
        days,
        day="day",
        columns={
            "night_pressure_m": night,
            "pressure_m": mean,
            "spread_m": spread,
            "loggers_count": count,
            "night_day_factor_h_d": factor,
            "rests_on": rests_on,
        },
    )
    return table, _said(cells, rests_on, unknown, settings)


def _factor(by_hour: Array, night: Array, spread: Array, count: Array, law: Law) -> Estimate:
    """Night-to-day factor of cells with a logger; NaN where no day of the record tells it."""

    def at(hours: Array, dark: Array, exponent: Any) -> Array:
        return median_filled(
            night_day_factor_h_d(
                hours,
                night_pressure_m=dark,
                exponent=exponent,
                form=law.form,
                head_m=law.head_m,
            )
        )

    usual = law.exponent.value
    value = at(by_hour, night, usual)
    exponents = [at(by_hour, night, e) for e in law.exponent[1:]]
    down = np.minimum(spread, (1.0 - LEAST_LEFT) * night)
    level = [at(by_hour + shift, night + shift, usual) for shift in (-down, spread)]
    course = COURSE_SPREAD_SHARE / np.sqrt(np.maximum(count, 1))
    fall = [
        at(night + (by_hour - night) * (1.0 + more), night, usual) for more in (-course, course)
    ]
    return around(value, exponents, level, fall)


def _of_cells(law: Law, at: Any) -> Law:
    """The law of some cells, by their positions."""

    def picked(values: Any) -> Array:
        array = np.asarray(values, dtype=float)
        return array[at] if array.ndim else array

    return Law(law.form, Estimate(*map(picked, law.exponent)), picked(law.head_m))


def _window_hours(night: Night) -> slice:
    last = night.end.hour + (1 if night.end.minute else 0)
    return slice(night.start.hour, max(last, night.start.hour + 1))


def _mean(values: Array, *, least: int) -> Array:
    known = np.isfinite(values)
    count = known.sum(axis=0)
    total = np.where(known, values, 0.0).sum(axis=0)
    return np.where(count >= least, np.maximum(total, 0.0) / np.maximum(count, 1), np.nan)


def _said(cells: pd.Index[Any], rests_on: Any, unknown: Any, settings: Settings) -> tuple[str, ...]:
    said = []
    p = settings.pressure
    assumed = cells[rests_on == "assumed"]
    if len(assumed):
        said.append(
            f"No pressure logger in {listed(assumed)}: {p.assumed_m:g} m "
            f"±{p.assumed_spread_m:g} m is assumed."
        )
    bare = cells[rests_on == "logger_level_unknown"]
    if len(bare):
        said.append(
            f"Level of the loggers or connections unknown in {listed(bare)}: the logger's own "
            f"pressure stands for the zone's, ±{UNLEVELLED_SPREAD_M:g} m, or what the ground of "
            "its connections spreads by where that is known."
        )
    flat = cells[unknown]
    if len(flat):
        usual, low, high = FACTOR_UNKNOWN_H_D
        said.append(
            f"No hourly pressure in {listed(flat)}: night-to-day factor {usual:g} h/day "
            f"({low:g} to {high:g})."
        )
    said.append(_law_said(p))
    b = settings.background
    said.append(
        f"Background leakage at 50 m: {b.mains_l_km_h:g} L/km/h of mains, "
        f"{b.connection_l_connection_h:g} L/connection/h, {b.private_l_km_h:g} L/km/h of private "
        f"pipe, times {b.condition_factor:g} ({b.condition_factor_low:g} to "
        f"{b.condition_factor_high:g}), with pressure to the power {b.exponent:g}."
    )
    return tuple(said)


def _law_said(pressure: Pressure) -> str:
    e = usual_law(pressure).exponent
    power = f"to the power {float(e.value):.3g} ({float(e.low):.3g} to {float(e.high):.3g})"
    if pressure.form == "power":
        return f"Leakage varies with pressure {power}."
    return (
        "Leakage varies with pressure as openings of fixed and of variable area do, leakage "
        f"number {pressure.leakage_number:g} ({pressure.leakage_number_low:g} to "
        f"{pressure.leakage_number_high:g}): near {pressure.leakage_number_head_m:g} m {power}."
    )
