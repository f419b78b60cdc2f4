"""Average zone pressure, the night-to-day factor, and background leakage."""

from __future__ import annotations

from typing import Any

import numpy as np
import pandas as pd

from district.balance.grids import among, days_of, long, text
from district.balance.limits import Array, Estimate, estimate, multiply_limits
from district.network import Network
from district.settings import Background, Night, Settings
from district.words import listed

REFERENCE_M = 50.0
"""Pressure the background components are stated at."""
LOGGER_SPREAD_M = 2.0
"""95 % limit of a logger's zone average: gauge, levels, head loss. Common practice, no source."""
UNLEVELLED_SPREAD_M = 5.0
"""The same where the logger's level or the zone's is unknown. Common practice, no source."""
FACTOR_UNKNOWN_H_D = (18.0, 24.0, 26.0)
"""Night-to-day factor (low, value, high) without hourly pressure: 24 is constant pressure; a
fall of a third by day gives 18 to 21, a zone raised a little by day by its reducing valve up to
26. Common practice, no source."""
HOURS_NEEDED = 20


def power_law(
    flow_l_s: Any, *, pressure_m: Any, reference_m: Any = REFERENCE_M, exponent: Any
) -> Array:
    """Leakage at `pressure_m` of a leak that gives `flow_l_s` at `reference_m`.

    Q1 = Q0 (P1/P0)^N1: Thornton, Sturm & Kunkel 2008, equation 10.4, p. 141. Pressure below zero
    counts as zero.

    >>> round(float(power_law(1.0, pressure_m=40, reference_m=50, exponent=1.5)), 3)
    0.716
    """
    ratio = np.maximum(np.asarray(pressure_m, dtype=float), 0.0) / reference_m
    return np.asarray(flow_l_s * ratio**exponent)


def night_day_factor_h_d(pressures_m: Any, *, night_pressure_m: Any, exponent: float) -> Array:
    """Daily leakage over night leakage: the sum over 24 h of (P_i / P_night)^N1.

    Parameters: `pressures_m` hourly means, 24 along the first axis (NaN where missing: the mean
    of the others stands in); `night_pressure_m` of the remaining shape. NaN where fewer than 20
    hours are known or the night pressure is not above zero. Hours a day; 24 at constant
    pressure. Source: from memory, McKenzie 1999 and the trade's usual practice.
    """
    hourly = np.maximum(np.asarray(pressures_m, dtype=float), 0.0)
    night = np.asarray(night_pressure_m, dtype=float)
    known = np.isfinite(hourly)
    with np.errstate(divide="ignore", invalid="ignore"):
        powered = np.where(known, hourly / night, 0.0) ** exponent
        mean = powered.sum(axis=0) / known.sum(axis=0)
    return np.where((known.sum(axis=0) >= HOURS_NEEDED) & (night > 0), 24.0 * mean, np.nan)


def background_l_s(
    mains_km: Any,
    *,
    connections_count: Any,
    private_km: Any,
    pressure_m: Any,
    background: Background,
    condition_factor: Any,
) -> Array:
    """Leakage too small to find, from the components at 50 m, in L/s.

    (mains + connections + private pipe) x condition factor x (P/50)^exponent; components after
    Lambert et al. 1999, J Water SRT - Aqua 48(6), from memory; the exponent 1.5 for zones whose
    detectable leaks are fixed: Thornton, Sturm & Kunkel 2008, p. 142.
    """
    hourly = (
        background.mains_l_km_h * np.asarray(mains_km, dtype=float)
        + background.connection_l_connection_h * np.asarray(connections_count, dtype=float)
        + background.private_l_km_h * np.asarray(private_km, dtype=float)
    )
    return power_law(
        hourly * condition_factor / 3600.0, pressure_m=pressure_m, exponent=background.exponent
    )


def background_limits(
    network: Network,
    *,
    cells: pd.Index[Any],
    pressure: Estimate,
    background: Background,
) -> Estimate:
    """Background leakage of the cells at `pressure` (m; last axis the cells), limits by variance
    of the condition factor's and the pressure's."""
    sizes = network.cells.reindex(cells)

    def at(pressure_m: Any, factor: Any) -> Array:
        return background_l_s(
            sizes["mains_km"].to_numpy(dtype=float),
            connections_count=sizes["connections_count"].to_numpy(dtype=float),
            private_km=sizes["private_km"].to_numpy(dtype=float),
            pressure_m=pressure_m,
            background=background,
            condition_factor=factor,
        )

    plain = Estimate(*(at(p, 1.0) for p in pressure))
    return multiply_limits(
        plain,
        estimate(
            background.condition_factor,
            background.condition_factor_low,
            background.condition_factor_high,
        ),
    )


def zone_pressures(
    network: Network,
    hourly: pd.DataFrame,
    *,
    settings: Settings,
    cells: pd.Index[Any],
    days: pd.DatetimeIndex,
) -> tuple[pd.DataFrame, tuple[str, ...]]:
    """Average pressure of each cell and day, from its loggers, and what was assumed.

    A logger's head (pressure + its level) less the connections' mean level is the zone's average
    pressure; without levels the logger's own pressure is used, without a logger the assumed one.

    Returns a table, a row a cell and day: cell_id, day, night_pressure_m (mean over the night
    window), pressure_m (mean of the day), spread_m (95 % limit of both),
    night_day_factor_h_d with limits, rests_on (logger, logger_level_unknown, assumed).
    """
    values, spread, rests_on = _by_hour(network, hourly, cells, days)
    night = _mean(values[_window_hours(settings.night)], least=1)
    mean = _mean(values, least=HOURS_NEEDED)
    told = ~np.isnan(night).all(axis=0)
    night, mean = _filled(night), _filled(mean)
    assumed = settings.pressure.assumed_m
    night = np.where(told, night, assumed)
    mean = np.where(np.isnan(mean), night, mean)
    spread = np.where(told, spread, settings.pressure.assumed_spread_m)
    rests_on = np.where(told, rests_on, "assumed")
    p = settings.pressure
    tried = np.stack(
        [
            _filled(night_day_factor_h_d(values, night_pressure_m=night, exponent=n))
            for n in (p.exponent, p.exponent_low, p.exponent_high)
        ]
    )
    constant = np.isnan(tried).any(axis=0)
    low, usual, high = FACTOR_UNKNOWN_H_D
    factor = Estimate(
        np.where(constant, usual, tried[0]),
        np.where(constant, low, tried.min(axis=0)),
        np.where(constant, high, tried.max(axis=0)),
    )
    table = long(
        cells,
        days,
        day="day",
        columns={
            "night_pressure_m": night,
            "pressure_m": mean,
            "spread_m": spread,
            "night_day_factor_h_d": factor,
            "rests_on": rests_on,
        },
    )
    return table, _said(cells, rests_on, constant, settings)


def _by_hour(
    network: Network, hourly: pd.DataFrame, cells: pd.Index[Any], days: pd.DatetimeIndex
) -> tuple[Array, Array, Any]:
    """Zone pressure by hour (24 x days x cells), its spread and what it rests on (cells)."""
    gauges = network.sensors[text(network.sensors["kind"]) == "pressure"]
    gauges = gauges[cells.get_indexer(text(gauges["cell_id"])) >= 0]
    inside = cells.get_indexer(text(gauges["cell_id"]))
    ground = network.cells["elevation_m"].reindex(cells).to_numpy(dtype=float)
    lift = gauges["elevation_m"].to_numpy(dtype=float) - ground[inside]
    names = pd.Index([str(g) for g in gauges.index], dtype=object)
    shown = np.isin(np.arange(len(names)), among(hourly["device_id"], names))
    levelled = np.isfinite(lift)
    levelled_cells = inside[levelled & shown]
    # Where one logger's level is known, those without would only blur its average.
    used = shown & (levelled | ~np.isin(inside, levelled_cells))
    ids = names[used]
    inside, lift = inside[used], np.where(levelled, lift, 0.0)[used]

    device = among(hourly["device_id"], ids)
    down = days.get_indexer(days_of(hourly["day"]))
    pressure = hourly["pressure_m"].to_numpy(dtype=float)
    hour = hourly["hour"].fillna(-1).to_numpy(dtype=np.int64)
    known = (device >= 0) & (down >= 0) & np.isfinite(pressure) & (hour >= 0) & (hour < 24)
    device, down, pressure, hour = device[known], down[known], pressure[known], hour[known]
    # Sorted, so that the order of rows does not touch the last digit of the sums.
    order = np.lexsort((device, hour, down))
    device, down, pressure, hour = device[order], down[order], pressure[order], hour[order]
    shape = (24, len(days), len(cells))
    at = (hour * len(days) + down) * len(cells) + inside[device]
    total = np.bincount(at, pressure + lift[device], minlength=int(np.prod(shape)))
    count = np.bincount(at, minlength=int(np.prod(shape)))
    values = np.where(count > 0, total / np.maximum(count, 1), np.nan).reshape(shape)
    level = np.isin(np.arange(len(cells)), levelled_cells)
    spread = np.where(level, LOGGER_SPREAD_M, UNLEVELLED_SPREAD_M)
    return values, spread, np.where(level, "logger", "logger_level_unknown")


def _window_hours(night: Night) -> slice:
    last = night.end.hour + (1 if night.end.minute else 0)
    return slice(night.start.hour, max(last, night.start.hour + 1))


def _mean(values: Array, *, least: int) -> Array:
    known = np.isfinite(values)
    count = known.sum(axis=0)
    total = np.where(known, values, 0.0).sum(axis=0)
    return np.where(count >= least, np.maximum(total, 0.0) / np.maximum(count, 1), np.nan)


def _filled(values: Array) -> Array:
    """Days without a value take the cell's median over the record."""
    frame = pd.DataFrame(values)
    return np.asarray(frame.fillna(frame.median()).to_numpy(dtype=float))


def _said(
    cells: pd.Index[Any], rests_on: Any, constant: Any, settings: Settings
) -> tuple[str, ...]:
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
            f"pressure stands for the zone's, ±{UNLEVELLED_SPREAD_M:g} m."
        )
    flat = cells[constant.any(axis=0)] if constant.size else cells[:0]
    if len(flat):
        low, usual, high = FACTOR_UNKNOWN_H_D
        said.append(
            f"No hourly pressure in {listed(flat)}: night-to-day factor {usual:g} h/day "
            f"({low:g} to {high:g})."
        )
    said.append(
        f"Leakage varies with pressure to the power {p.exponent:g} "
        f"({p.exponent_low:g} to {p.exponent_high:g})."
    )
    b = settings.background
    said.append(
        f"Background leakage at 50 m: {b.mains_l_km_h:g} L/km/h of mains, "
        f"{b.connection_l_connection_h:g} L/connection/h, {b.private_l_km_h:g} L/km/h of private "
        f"pipe, times {b.condition_factor:g} ({b.condition_factor_low:g} to "
        f"{b.condition_factor_high:g}), with pressure to the power {b.exponent:g}."
    )
    return tuple(said)
