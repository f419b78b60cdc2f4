"""Performance indicators of the year, of the district and each zone."""

from __future__ import annotations

from typing import Any

import numpy as np
import pandas as pd

from district.balance.annual import YEAR_D, summed_as_one, with_district, with_sum
from district.balance.grids import days_of, estimate_in, in_columns, wide
from district.balance.indicators import (
    index_limits,
    index_note,
    ratio,
    share_limits,
    target_bands,
    unavoidable_losses_l_d,
)
from district.balance.metering import Metering, metering
from district.balance.worth import cost_share, value_share
from district.estimates import Array, Estimate, scaled
from district.network import Network
from district.schema.columns import empty
from district.schema.outputs import INDICATORS
from district.settings import Settings


def annual_indicators(
    network: Network,
    annual: pd.DataFrame,
    *,
    pressures: pd.DataFrame,
    settings: Settings,
    layout: Metering | None = None,
) -> pd.DataFrame:
    """Table INDICATORS from table ANNUAL: the district first, then its cells.

    `layout` is that of the network, made here if not given.

    The district's size is the sum of its cells, its pressure their mean weighted by connections,
    its unavoidable losses the sum of theirs.
    """
    if annual.empty:
        return empty(INDICATORS)
    lines = lines_of(annual)
    areas = annual["cell_id"].unique()
    cells = pd.Index(areas[1:], dtype=object)
    sizes = network.cells.reindex(cells)
    km = sizes["mains_km"].to_numpy(dtype=float)
    connections = sizes["connections_count"].to_numpy(dtype=float)
    private = sizes["private_km"].to_numpy(dtype=float)
    mean = year_pressure(pressures, (layout or metering(network)).cells, cells=cells)

    def unavoidable(pressure_m: Array) -> Array:
        return (YEAR_D / 1000.0) * unavoidable_losses_l_d(
            km, connections_count=connections, private_km=private, pressure_m=pressure_m
        )

    by_cell = Estimate(*(unavoidable(p) for p in mean))
    pressure = np.append(mean_pressure_m(mean.value, connections), mean.value)
    losses = lines["real losses"]
    least = with_district(by_cell, summed_as_one(by_cell))
    km, connections = with_sum(km), with_sum(connections)
    a_connection = ratio(1000.0 / YEAR_D, connections)
    by_connection = scaled(losses, a_connection)
    estimates = {
        "real_losses_m3": losses,
        "unavoidable_losses_m3": least,
        "leakage_index": index_limits(losses, least),
        "leakage_l_connection_d": by_connection,
        "leakage_m3_km_d": scaled(losses, ratio(1.0 / YEAR_D, km)),
        "apparent_l_connection_d": scaled(lines["apparent losses"], a_connection),
        "non_revenue_share": share_limits(
            lines["billed authorised consumption"], lines["system input volume"]
        ),
        "non_revenue_value_share": value_share(lines, costs=settings.costs),
        "non_revenue_cost_share": cost_share(
            lines_of(annual, "value_currency")["non-revenue water"], costs=settings.costs
        ),
    }
    table = pd.DataFrame(
        {
            "cell_id": np.asarray(areas, dtype=object),
            "index_note": [
                index_note(k, connections_count=n, pressure_m=p)
                for k, n, p in zip(km, connections, pressure, strict=True)
            ],
            "pressure_m": pressure,
            "target_band": target_bands(
                by_connection, pressure_m=pressure, country_group=settings.country_group
            ),
        }
    )
    table = table.assign(**in_columns(estimates))
    return table[list(INDICATORS.names())]


def lines_of(annual: pd.DataFrame, column: str = "volume_m3") -> dict[str, Estimate]:
    """A figure of table ANNUAL by the words of the line: arrays over the areas, district first."""
    return {
        str(name): estimate_in(part, column)
        for name, part in annual.groupby("component", sort=False)
    }


def year_pressure(
    pressures: pd.DataFrame, all_cells: pd.Index[Any], *, cells: pd.Index[Any]
) -> Estimate:
    """Mean pressure of these cells over the last 365 days of the table, m.

    Parameters: `pressures` from `zone_pressures`, made for `all_cells`.
    """
    day = days_of(pressures["day"])
    last = pressures[day > day.max() - pd.Timedelta(days=YEAR_D)] if len(day) else pressures
    keep = all_cells.get_indexer(cells)
    mean = wide(last, "pressure_m", all_cells).mean(axis=0)[keep]
    spread = wide(last, "spread_m", all_cells).mean(axis=0)[keep]
    return Estimate(mean, mean - spread, mean + spread)


def mean_pressure_m(pressure_m: Array, connections_count: Array) -> float:
    """Mean of cells' pressures, weighted by their connections where there are any."""
    weight = connections_count if connections_count.sum() > 0 else np.ones(len(pressure_m))
    return float(np.average(pressure_m, weights=weight))
