"""The year's figures of the district and each zone, from daily volumes and nights."""

from __future__ import annotations

from typing import Any

import numpy as np
import pandas as pd

from district.balance.annual import (
    DISTRICT,
    annual_table,
    assumed_parts,
    complete_balance,
    summed_apart,
    summed_as_one,
    with_district,
    yearly,
)
from district.balance.grids import days_of, wide, wide_estimate
from district.balance.indicators import (
    index_limits,
    index_note,
    ratio,
    share_limits,
    target_bands,
    unavoidable_losses_l_d,
)
from district.balance.limits import (
    Z_95,
    Array,
    Estimate,
    estimate,
    from_deviation,
    multiply_limits,
    scaled,
)
from district.balance.metering import Metering, metering
from district.balance.night import NightBalance
from district.balance.summary import recent, usable_nights
from district.balance.volumes import Volumes
from district.network import Network
from district.schema.columns import empty
from district.schema.outputs import ANNUAL, INDICATORS
from district.settings import Settings
from district.units import M3_PER_L_S_H
from district.words import percent

YEAR_D = 365
LEAST_DAYS = 300
"""Fewer days than this do not show all seasons."""


def annual_balance(
    network: Network,
    *,
    volumes: Volumes,
    night: NightBalance,
    settings: Settings,
) -> tuple[pd.DataFrame, tuple[str, ...]]:
    """Table ANNUAL of the last 365 days, and what it assumes.

    Each cell's means over the days with a known inflow are scaled to 365 days; cells without a
    known day are left out. The district is the sum of its cells: a meter between two of them
    cancels, so the limits of its input come from the outer meters alone; shares and allowances
    are one assumption for all cells, so their limits add.
    """
    layout = metering(network)
    counted = recent(np.isfinite(volumes.inflow_m3), count=YEAR_D)
    # The same last 365 calendar days for all cells, so that flows between them cancel.
    counted[: max(0, len(volumes.days) - YEAR_D)] = False
    known = counted.any(axis=0)
    if not known.any():
        return empty(ANNUAL), ("Annual balance: no complete day of inflow in any zone.",)
    cells = layout.cells[known]
    parts, totals, customers = _measured(layout, volumes, counted, known)
    bottom, bottom_total = _bottom_up(night, layout.cells, known)
    parts |= assumed_parts(parts["system_input"].value, customers, annual=settings.annual)
    parts["bottom_up"] = bottom
    totals["bottom_up"] = bottom_total
    both = {
        name: with_district(part, totals[name] if name in totals else summed_as_one(part))
        for name, part in parts.items()
    }
    lines = complete_balance({n: yearly(p, days=YEAR_D) for n, p in both.items()})
    areas = pd.Index([DISTRICT, *cells], dtype=object)
    table = annual_table(areas, lines, costs=settings.costs)
    return table, _said(counted, known, layout, settings)


def _measured(
    layout: Metering, volumes: Volumes, counted: Any, known: Any
) -> tuple[dict[str, Estimate], dict[str, Estimate], Array]:
    """Mean daily input, metered and unmetered use of the known cells, of them together, and
    what customers' meters have of it."""
    inside = np.flatnonzero(known)
    means = volumes.edge_means_m3_d(layout, counted=counted)[inside]
    errors = volumes.edge_errors_m3_d(layout, counted=counted)[inside] / Z_95
    deviation = np.sqrt(np.asarray(errors.multiply(errors).sum(axis=1)))
    each = from_deviation(np.asarray(means.sum(axis=1)), deviation)
    across = np.asarray(errors.sum(axis=0))
    whole = from_deviation(each.value.sum(), np.sqrt((across**2).sum()))

    users = volumes.devices
    days_count = np.maximum(counted.sum(axis=0), 1)
    use = (
        np.where(counted[:, users.cell], volumes.user_m3, 0.0).sum(axis=0) / days_count[users.cell]
    )
    # A user draws in spurts: the mean flow tells nothing of the flow at which its meter counts.
    deviation = np.sqrt(users.inside @ (use * users.error_share / Z_95) ** 2)
    metered = from_deviation((users.inside @ use)[known], deviation[known])
    unmetered = from_deviation(volumes.unmetered.mean[known], volumes.unmetered.systematic[known])
    parts = {"system_input": each, "billed_metered": metered, "billed_unmetered": unmetered}
    customers = np.asarray(users.inside @ (use * users.customer))[known]
    return parts, {"system_input": whole, "billed_metered": summed_apart(metered)}, customers


def _bottom_up(night: NightBalance, cells: pd.Index[Any], known: Any) -> tuple[Estimate, Estimate]:
    """Mean daily leakage over the year's usable nights, of the known cells and of them together."""
    chosen = recent(usable_nights(night.nights, cells), count=YEAR_D)[:, known]
    count = chosen.sum(axis=0).astype(float)

    def mean(values: Array) -> Array:
        return ratio(np.where(chosen, values[:, known], 0.0).sum(axis=0), count)

    flow = mean(wide(night.nights, "leakage_l_s", cells))
    systematic = mean(wide(night.spreads, "leakage_systematic_l_s", cells))
    random = mean(wide(night.spreads, "leakage_random_l_s", cells)) / np.sqrt(np.maximum(count, 1))
    factor = Estimate(
        *(mean(x) for x in wide_estimate(night.nights, "night_day_factor_h_d", cells))
    )
    daily = mean(wide(night.nights, "leakage_m3_d", cells))
    limits = multiply_limits(from_deviation(flow, np.hypot(systematic, random)), factor)
    # Days of high factor and of high leakage need not coincide: the value is the mean of the
    # days' own products, the limits keep their distance from it.
    moved = scaled(limits, M3_PER_L_S_H)
    shift = daily - moved.value
    each = Estimate(daily, moved.low + shift, moved.high + shift)
    # Allowances and the pressure exponent are one assumption for all: their limits add.
    there = np.isfinite(each.value)
    whole = summed_as_one(Estimate(*(p[there] for p in each)))
    return each, whole if there.any() else estimate(np.nan)


def _said(counted: Any, known: Any, layout: Metering, settings: Settings) -> tuple[str, ...]:
    a = settings.annual
    said = [
        f"Annual balance: unbilled unmetered use {percent(a.unbilled_unmetered_share)} and "
        f"unauthorised use {percent(a.unauthorised_share)} of system input, customers' meters "
        f"(not those of buildings) read {percent(a.customer_under_registration_share)} low, "
        f"each ±{percent(a.assumed_spread_share)}."
    ]
    days = counted.sum(axis=0)
    if days[known].min() < YEAR_D:
        least, most = int(days[known].min()), int(days[known].max())
        many = f"{least}" if least == most else f"{least} to {most}"
        season = " Seasons not covered are not known." if least < LEAST_DAYS else ""
        said.append(
            f"Annual balance: {many} days with a complete inflow are scaled to 365.{season}"
        )
    without = layout.cells[~known]
    if len(without):
        said.append(f"Annual balance: no complete day of inflow in {', '.join(without)}.")
    return tuple(said)


def annual_indicators(
    network: Network,
    annual: pd.DataFrame,
    *,
    pressures: pd.DataFrame,
    settings: Settings,
) -> pd.DataFrame:
    """Table INDICATORS from table ANNUAL: the district first, then its cells.

    The district's size is the sum of its cells, its pressure their mean weighted by connections,
    its unavoidable losses the sum of theirs.
    """
    if annual.empty:
        return empty(INDICATORS)
    lines = {n: g.set_index("cell_id") for n, g in annual.groupby("component", sort=False)}

    def line(name: str) -> Estimate:
        frame = lines[name]
        return Estimate(*(frame[f"volume_m3{s}"].to_numpy() for s in ("", "_low", "_high")))

    areas = lines["real losses"].index
    cells = areas[1:]
    all_cells = metering(network).cells
    sizes = network.cells.reindex(cells)
    km = sizes["mains_km"].to_numpy(dtype=float)
    connections = sizes["connections_count"].to_numpy(dtype=float)
    private = sizes["private_km"].to_numpy(dtype=float)
    keep = all_cells.get_indexer(cells)
    year = days_of(pressures["day"])
    year_only = pressures[year > year.max() - pd.Timedelta(days=YEAR_D)] if len(year) else pressures
    mean = wide(year_only, "pressure_m", all_cells).mean(axis=0)[keep]
    spread = wide(year_only, "spread_m", all_cells).mean(axis=0)[keep]

    def unavoidable(pressure_m: Array) -> Array:
        return 0.365 * unavoidable_losses_l_d(
            km, connections_count=connections, private_km=private, pressure_m=pressure_m
        )

    weight = connections if connections.sum() > 0 else np.ones(len(cells))
    pressure = np.append(np.average(mean, weights=weight), mean)
    by_cell = Estimate(unavoidable(mean), unavoidable(mean - spread), unavoidable(mean + spread))
    losses = line("real losses")
    least = with_district(by_cell, summed_as_one(by_cell))
    km, connections = np.append(km.sum(), km), np.append(connections.sum(), connections)
    by_connection = scaled(losses, ratio(1000.0 / YEAR_D, connections))
    estimates = {
        "real_losses_m3": losses,
        "leakage_index": index_limits(losses, least),
        "leakage_l_connection_d": by_connection,
        "leakage_m3_km_d": scaled(losses, ratio(1.0 / YEAR_D, km)),
        "non_revenue_share": share_limits(
            line("billed authorised consumption"), line("system input volume")
        ),
    }
    table = pd.DataFrame(
        {
            "cell_id": np.asarray(areas, dtype=object),
            "unavoidable_losses_m3": least.value,
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
    for name, part in estimates.items():
        for suffix, values in zip(("", "_low", "_high"), part, strict=True):
            table[name + suffix] = values
    return table[list(INDICATORS.names())]
