"""Zone pressure by hour from loggers, and how well they tell it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
import numpy.typing as npt
import pandas as pd

from district.balance.grids import among, days_of, text
from district.estimates import Z_95, Array
from district.network import Network

LOGGER_SPREAD_M = 2.0
"""95 % limit of a zone's average from one logger whose level and the zone's are known: gauge,
levels, and head lost between the logger and the average connection. Common practice, no source."""
UNLEVELLED_SPREAD_M = 5.0
"""The same where the logger's level or the ground of the zone is unknown. Common practice, no
source."""
PRIOR_LOGGERS = 2
"""How many loggers' disagreement the limit of one logger counts for when several disagree."""
LEAST_LEVELS = 5
"""Fewer connections of known level do not tell how a zone's ground spreads."""


@dataclass(frozen=True, eq=False)
class Gauged:
    """What loggers tell: `by_hour_m` zone pressure, 24 x days x cells; `loggers_count` that
    reported at night and `spread_m` the 95 % limit of the average, days x cells; `rests_on`
    'logger' or 'logger_level_unknown' by cell (where no logger is: meaningless)."""

    by_hour_m: Array
    loggers_count: Array
    spread_m: Array
    rests_on: Any


def with_gauge(network: Network, cells: pd.Index[Any]) -> npt.NDArray[np.intp]:
    """Positions of the cells in which a pressure logger stands."""
    gauges = network.sensors[text(network.sensors["kind"]) == "pressure"]
    return np.flatnonzero(cells.isin(text(gauges["cell_id"])))


def gauged(
    network: Network,
    hourly: pd.DataFrame,
    *,
    cells: pd.Index[Any],
    days: pd.DatetimeIndex,
    night: slice,
) -> Gauged:
    """Zone pressures by hour, from the loggers of each cell.

    Parameters: `hourly` table HOURLY_PRESSURES; `night` the hours of the night window.

    A logger's head (pressure + its level) less the connections' mean level is the average over
    connections while no head is lost between them. Several loggers are averaged. The limit of
    the average is that of one logger over the root of their number, or what they disagree by
    after correction of level where that is more (pooled with the limit of one, that two loggers
    which happen to agree or not do not decide alone). An unknown level puts the ground's spread
    about its mean in, as the connections tell it, or a default.
    """
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
    values, nightly = _averages(hourly, ids, inside, lift, (len(days), len(cells)), days, night)
    level = np.isin(np.arange(len(cells)), levelled_cells)
    count, scatter = _disagreement(nightly, inside, len(cells))
    spread = _spread(count, scatter, level, _relief(network, cells))
    return Gauged(values, count, spread, np.where(level, "logger", "logger_level_unknown"))


def _averages(
    hourly: pd.DataFrame,
    ids: pd.Index[Any],
    inside: Any,
    lift: Array,
    size: tuple[int, int],
    days: pd.DatetimeIndex,
    night: slice,
) -> tuple[Array, Array]:
    """Mean over the loggers of each cell (24 x days x cells), and each logger's mean over the
    night hours (days x loggers), both brought to the connections' mean level."""
    device = among(hourly["device_id"], ids)
    down = days.get_indexer(days_of(hourly["day"]))
    pressure = hourly["pressure_m"].to_numpy(dtype=float)
    hour = hourly["hour"].fillna(-1).to_numpy(dtype=np.int64)
    known = (device >= 0) & (down >= 0) & np.isfinite(pressure) & (hour >= 0) & (hour < 24)
    device, down, pressure, hour = device[known], down[known], pressure[known], hour[known]
    # Sorted, so that the order of rows does not touch the last digit of the sums.
    order = np.lexsort((device, hour, down))
    device, down, pressure, hour = device[order], down[order], pressure[order], hour[order]
    pressure = pressure + lift[device]
    shape = (24, *size)
    at = (hour * size[0] + down) * size[1] + inside[device]
    values = _binned(at, pressure, int(np.prod(shape))).reshape(shape)
    dark = (hour >= night.start) & (hour < night.stop)
    at = down[dark] * len(ids) + device[dark]
    return values, _binned(at, pressure[dark], size[0] * len(ids)).reshape(size[0], len(ids))


def _binned(at: Any, values: Array, length: int) -> Array:
    total = np.bincount(at, values, minlength=length)
    count = np.bincount(at, minlength=length)
    return np.where(count > 0, total / np.maximum(count, 1), np.nan)


def _disagreement(nightly: Array, inside: Any, cells_count: int) -> tuple[Array, Array]:
    """Loggers that reported at night, and the sum of their squared distances from their mean, by
    night and cell."""
    known = np.isfinite(nightly)
    filled = np.where(known, nightly, 0.0)
    count = np.zeros((len(nightly), cells_count))
    total, squares = count.copy(), count.copy()
    for logger, cell in enumerate(inside):
        count[:, cell] += known[:, logger]
        total[:, cell] += filled[:, logger]
    mean = total / np.maximum(count, 1)
    for logger, cell in enumerate(inside):
        away = np.where(known[:, logger], nightly[:, logger] - mean[:, cell], 0.0)
        squares[:, cell] += away**2
    return count, squares


def _spread(count: Array, squares: Array, level: Any, relief: tuple[Array, Array]) -> Array:
    """95 % limit of the average, nights x cells."""
    ground, mean_level = relief
    unlevelled = np.where(
        np.isfinite(ground), np.hypot(LOGGER_SPREAD_M, Z_95 * ground), UNLEVELLED_SPREAD_M
    )
    one = np.where(level, LOGGER_SPREAD_M, unlevelled)
    number = np.maximum(count, 1)
    pooled = (PRIOR_LOGGERS * (one / Z_95) ** 2 + squares) / (PRIOR_LOGGERS + number - 1)
    spread = np.maximum(one, Z_95 * np.sqrt(pooled)) / np.sqrt(number)
    return np.asarray(np.hypot(spread, np.where(level, Z_95 * mean_level, 0.0)))


def _relief(network: Network, cells: pd.Index[Any]) -> tuple[Array, Array]:
    """Standard deviation of the ground over a cell's connections, NaN where too few levels are
    known; and that of their mean, for those whose level is not known."""
    places = network.connections
    levels = pd.to_numeric(places["elevation_m"]).groupby(text(places["cell_id"]))
    known = levels.count().reindex(cells).fillna(0).to_numpy(dtype=float)
    whole = levels.size().reindex(cells).fillna(0).to_numpy(dtype=float)
    spread = levels.std().reindex(cells).to_numpy(dtype=float)
    ground = np.where(known >= LEAST_LEVELS, spread, np.nan)
    lacking = 1.0 / np.maximum(known, 1.0) - 1.0 / np.maximum(whole, 1.0)
    return ground, np.nan_to_num(spread) * np.sqrt(np.maximum(lacking, 0.0))
