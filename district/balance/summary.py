"""Each zone over its recent nights, worst first."""

from __future__ import annotations

from typing import Any

import numpy as np
import pandas as pd

from district.balance.annual import YEAR_D
from district.balance.background import above_background, service_bursts_count
from district.balance.grids import column_medians, days_of, in_columns, text, wide, wide_estimate
from district.balance.indicators import size_columns
from district.balance.limits import MEDIAN_FACTOR
from district.balance.metering import Metering, metering
from district.balance.night import NightBalance
from district.balance.noise import SCATTER
from district.balance.volumes import Volumes
from district.estimates import Z_95, Array, Estimate, from_deviation, multiply_limits, scaled
from district.network import Network
from district.schema.outputs import ZONES
from district.settings import Settings
from district.units import M3_PER_L_S_H


def zone_summary(
    network: Network,
    night: NightBalance,
    *,
    volumes: Volumes,
    pressures: pd.DataFrame,
    settings: Settings,
    layout: Metering | None = None,
) -> pd.DataFrame:
    """Table ZONES: figures over the last `settings.night.recent_nights` usable nights.

    `layout` is that of the network, made here if not given.

    A night is usable if it is measured and no works are recorded on it. Night flows are medians,
    so that one odd night (a fire, a tank filled) moves nothing; daily inflow is a mean, because
    volumes add. Limits: the systematic part (meter error, allowances) is that of one night, for
    it is the same every night; the random part is the larger of the modelled and the observed
    scatter, times 1.25 for a median, over the root of the number of nights. Excess is leakage
    less background of this table, not below nothing. Sorted by excess, largest first, zones
    without figures last.
    """
    layout = layout or metering(network)
    cells = layout.cells
    chosen = recent(usable_nights(night.nights, cells), count=settings.night.recent_nights)
    flows = {
        name: _median(night, name, cells, chosen)
        for name in ("minimum_night_flow", "legitimate_use", "leakage")
    }
    over = {
        name: Estimate(*(_middle(x, chosen) for x in wide_estimate(night.nights, name, cells)))
        for name in ("background_l_s", "night_day_factor_h_d")
    }
    leakage_m3_d = scaled(
        multiply_limits(flows["leakage"], over["night_day_factor_h_d"]), M3_PER_L_S_H
    )
    sizes = network.cells.reindex(cells)
    pressure = _pressure(pressures, "pressure_m", cells, settings.night.recent_nights)
    night_m = _pressure(pressures, "night_pressure_m", cells, settings.night.recent_nights)
    excess = above_background(flows["leakage"], over["background_l_s"])
    measures = size_columns(
        sizes,
        leakage_m3_d=leakage_m3_d,
        pressure=pressure,
        country_group=settings.country_group,
    )
    use = flows["legitimate_use"]
    use = Estimate(use.value, np.maximum(use.low, np.minimum(use.value, 0.0)), use.high)
    columns: dict[str, Any] = {
        "inflow_m3_d": _inflow(volumes, layout, settings.night.recent_nights),
        "minimum_night_flow_l_s": flows["minimum_night_flow"],
        "legitimate_use_l_s": use,
        "leakage_l_s": flows["leakage"],
        "background_l_s": over["background_l_s"],
        "excess_l_s": excess,
        "service_bursts_count": service_bursts_count(excess, night_m),
        "night_day_factor_h_d": over["night_day_factor_h_d"],
        "leakage_m3_d": leakage_m3_d,
        "pressure_m": pressure.value,
        **measures,
    }
    name = text(sizes["name"])
    table = pd.DataFrame(
        {
            "cell_id": np.asarray(cells, dtype=object),
            "name": name.where(name != "", cells).to_numpy(dtype=object),
            "parent_cell_id": text(sizes["parent_cell_id"]).to_numpy(dtype=object),
            "mains_km": sizes["mains_km"].to_numpy(dtype=float),
            "connections_count": sizes["connections_count"].to_numpy(dtype=float),
            "properties_count": sizes["properties_count"].to_numpy(dtype=float),
            "nights_count": chosen.sum(axis=0).astype(float),
        }
    )
    for column, values in columns.items():
        parts = in_columns({column: values}) if isinstance(values, Estimate) else {column: values}
        table = table.assign(**parts)
    ordered = table.sort_values(
        ["excess_l_s", "cell_id"], ascending=[False, True], na_position="last", ignore_index=True
    )
    return ordered[list(ZONES.names())]


def usable_nights(nights: pd.DataFrame, cells: pd.Index[Any]) -> Any:
    """Nights x cells: true where measured and without recorded works."""
    measured = wide(nights, "status", cells) == "measured"
    return measured & (wide(nights, "works", cells) == "")


def nights_of_year(nights: pd.DataFrame, cells: pd.Index[Any]) -> Any:
    """Nights x cells: true where usable and among the last 365 nights of table NIGHTS."""
    usable = usable_nights(nights, cells)
    # Of the calendar: a zone of many gaps must not be told by nights of years ago.
    usable[: max(0, len(usable) - YEAR_D)] = False
    return usable


def recent(usable: Any, *, count: int) -> Any:
    """The last `count` true rows of each column, as an array of the same shape."""
    from_last = np.cumsum(usable[::-1], axis=0)[::-1]
    return usable & (from_last <= count)


def _middle(values: Array, chosen: Any) -> Array:
    return column_medians(np.where(chosen, values, np.nan))


def _median(night: NightBalance, name: str, cells: pd.Index[Any], chosen: Any) -> Estimate:
    flow, systematic, random = median_parts(night, name, cells=cells, chosen=chosen)
    return from_deviation(flow, np.hypot(systematic, random))


def median_parts(
    night: NightBalance, name: str, *, cells: pd.Index[Any], chosen: Any
) -> tuple[Array, Array, Array]:
    """Median night flow `name` over the `chosen` nights (nights x cells), and the standard
    deviations of what is the same every night and of what differs, L/s by cell."""
    flow = wide(night.nights, f"{name}_l_s", cells)
    middle = _middle(flow, chosen)
    observed = SCATTER * _middle(np.abs(flow - middle), chosen)
    modelled = _middle(wide(night.spreads, f"{name}_random_l_s", cells), chosen)
    count = np.maximum((chosen & np.isfinite(flow)).sum(axis=0), 1)
    random = MEDIAN_FACTOR * np.fmax(observed, modelled) / np.sqrt(count)
    systematic = _middle(wide(night.spreads, f"{name}_systematic_l_s", cells), chosen)
    return middle, systematic, random


def _inflow(volumes: Volumes, layout: Any, count: int) -> Estimate:
    counted = recent(np.isfinite(volumes.inflow_m3), count=count)
    means = volumes.edge_means_m3_d(layout, counted=counted)
    value = np.where(counted.any(axis=0), means.sum(axis=1), np.nan)
    errors = volumes.edge_errors_m3_d(layout, counted=counted) / Z_95
    return from_deviation(value, np.sqrt(np.asarray(errors.multiply(errors).sum(axis=1))))


def _pressure(pressures: pd.DataFrame, name: str, cells: pd.Index[Any], count: int) -> Estimate:
    days = len(days_of(pressures["day"]).unique())
    last = recent(np.ones((days, len(cells)), dtype=bool), count=count)
    mean = _middle(wide(pressures, name, cells), last)
    spread = _middle(wide(pressures, "spread_m", cells), last)
    return Estimate(mean, mean - spread, mean + spread)
