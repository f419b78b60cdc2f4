"""The two equations of each cell and day: what the night leaves over, and what the day does."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
import pandas as pd

from district.balance.grids import days_of, grid, wide
from district.balance.metering import Metering
from district.balance.night import NightBalance
from district.balance.volumes import M3_D_PER_L_S, Volumes
from district.estimates import Array
from district.network import Network


@dataclass(frozen=True, eq=False)
class Equations:
    """What is left of each cell's inflow when use is taken off, by night and by day, in L/s.

    A leak q adds (q, k q) to (night, day) of its cell, with k the night-to-day factor over 24 h;
    a meter that reads a share too high adds that share of its flow to both of its downstream
    cell and takes it from its upstream cell.

    days
        every local day of the record.
    cells, meters
        sorted ids, those of `Metering`.
    upstream, downstream
        position of each meter's cells in `cells`, -1 where that side is not balanced.
    night_l_s, day_l_s
        days x cells; NaN where an inflow is not known or works are recorded.
    night_flow_l_s, day_flow_l_s
        days x meters, as read.
    factor_share
        cells: k, the mean over the record.
    use_l_s
        cells: mean consumption over the day.
    metered_share
        days: how much more than usual the metered users together draw; 0 where not known.
    """

    days: pd.DatetimeIndex
    cells: pd.Index[Any]
    meters: pd.Index[Any]
    upstream: Any
    downstream: Any
    night_l_s: Array
    day_l_s: Array
    night_flow_l_s: Array
    day_flow_l_s: Array
    factor_share: Array
    use_l_s: Array
    metered_share: Array


def equations(
    layout: Metering,
    night_flows: pd.DataFrame,
    *,
    night: NightBalance,
    volumes: Volumes,
    pressures: pd.DataFrame,
    days: pd.DatetimeIndex,
) -> Equations:
    """Bring nights and days of one balance to common days.

    Parameters: `night_flows` table NIGHT_FLOWS; `night`, `volumes` and `pressures` of the same
    cells; `days` without holes, covering both.
    """
    cells = layout.cells
    nights = days_of(night.nights["night"].iloc[: len(night.nights) // max(len(cells), 1)])
    works = wide(night.nights, "works", cells) != ""
    measured = (wide(night.nights, "status", cells) == "measured") & ~works
    left = np.where(measured, wide(night.nights, "leakage_l_s", cells), np.nan)
    by_night = _on(days, nights, left)
    consumption = volumes.consumption_m3()
    by_day = _on(days, volumes.days, (volumes.inflow_m3 - consumption) / M3_D_PER_L_S)
    during = _on(days, nights, works.astype(float)) > 0
    used = consumption.mean(axis=0) if len(consumption) else volumes.unmetered.mean
    factor = pressures.groupby("cell_id")["night_day_factor_h_d"].mean().reindex(cells)
    upstream, downstream = sides(layout)
    return Equations(
        days=days,
        cells=cells,
        meters=layout.meters,
        upstream=upstream,
        downstream=downstream,
        night_l_s=by_night,
        day_l_s=np.where(during, np.nan, by_day),
        night_flow_l_s=grid(
            night_flows, row="night", value="flow_l_s", rows=days, columns=layout.meters
        ),
        day_flow_l_s=_on(days, volumes.days, volumes.edge_m3 / M3_D_PER_L_S),
        factor_share=factor.fillna(24.0).to_numpy(dtype=float) / 24.0,
        use_l_s=np.asarray(used, dtype=float) / M3_D_PER_L_S,
        metered_share=_metered(volumes, days),
    )


def _metered(volumes: Volumes, days: pd.DatetimeIndex) -> Array:
    """Together's deviation from the usual, so that one user's habits hardly count."""
    total = volumes.user_m3.sum(axis=1)
    usual = float(np.median(total)) if len(total) else 0.0
    if usual <= 0:
        return np.zeros(len(days))
    return np.nan_to_num(_on(days, volumes.days, (total / usual - 1.0)[:, None])[:, 0])


def sides(layout: Metering) -> tuple[Any, Any]:
    """Position of each meter's upstream and downstream cell; -1 where it is not balanced."""
    signs = layout.signs.tocoo()
    upstream = np.full(len(layout.meters), -1)
    downstream = np.full(len(layout.meters), -1)
    out = signs.data < 0
    upstream[signs.col[out]] = signs.row[out]
    downstream[signs.col[~out]] = signs.row[~out]
    return upstream, downstream


def valves_between(network: Network) -> dict[tuple[str, str], tuple[str, ...]]:
    """Pairs of cells (sorted) that a valve recorded shut parts, with the valves."""
    named = network.nodes["cut"].to_numpy()
    beside: dict[str, set[str]] = {}
    meters = set(network.boundaries["meter_id"])
    # As an array: pipes by the ten thousand, and a column of texts makes each of them anew.
    cell_of = network.pipes["cell_id"].to_numpy()
    for end in ("start_position", "end_position"):
        at = network.pipes[end].to_numpy(dtype=int)
        for cut, cell in zip(named[at], cell_of, strict=True):
            if cut and cell and cut not in meters:
                beside.setdefault(str(cut), set()).add(str(cell))
    pairs: dict[tuple[str, str], list[str]] = {}
    for valve, cells in sorted(beside.items()):
        if len(cells) == 2:
            first, second = sorted(cells)
            pairs.setdefault((first, second), []).append(valve)
    return {pair: tuple(valves) for pair, valves in pairs.items()}


def _on(days: pd.DatetimeIndex, own: pd.DatetimeIndex, values: Array) -> Array:
    placed = np.full((len(days), values.shape[1]), np.nan)
    at = days.get_indexer(own)
    placed[at[at >= 0]] = values[at >= 0]
    return placed
