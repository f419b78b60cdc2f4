"""The audit of each zone's figures over its recent nights (table ZONES)."""

from __future__ import annotations

from typing import Any

import numpy as np
import pandas as pd

from district.balance.audit_background import background_figure, unavoidable_figure
from district.balance.audit_inputs import (
    adjusted,
    condition_row,
    factor_row,
    interval_use,
    middle,
    night_meters,
    pressure_row,
    scatter_row,
    use_parts,
    volume_rows,
)
from district.balance.audit_rows import Figure, Row, link, worked_out
from district.balance.effects import Effect, Traced, fitted, taken_up, through, traced, uncut
from district.balance.grids import estimate_in, wide
from district.balance.indicators import index_limits, ratio
from district.balance.metering import Metering
from district.balance.night import NightBalance
from district.balance.summary import median_parts, recent, usable_nights
from district.balance.volumes import Volumes
from district.estimates import Z_95, Array, Estimate, combine_limits, multiply_limits, scaled
from district.network import Network
from district.settings import Settings
from district.units import M3_PER_L_S_H

DAILY = "daily leakage"
"""The headline of a zone."""


def zone_figures(
    network: Network,
    *,
    layout: Metering,
    night: NightBalance,
    volumes: Volumes,
    pressures: pd.DataFrame,
    zones: pd.DataFrame,
    settings: Settings,
) -> tuple[list[Figure], dict[str, Row]]:
    """Figures of table ZONES, over `layout.cells`, and the inputs they share."""
    cells = layout.cells
    table = zones.set_index("cell_id").reindex(cells)

    def shown(name: str) -> Estimate:
        return estimate_in(table, name)

    chosen = recent(usable_nights(night.nights, cells), count=settings.night.recent_nights)
    flows, traces, inputs = _flows(layout, night, chosen, shown)
    rests_on = wide(pressures, "rests_on", cells)[-1]
    spread_m = _recent_spread(pressures, cells, settings.night.recent_nights)
    pressure_m = table["pressure_m"].to_numpy(dtype=float)
    pressure = Estimate(pressure_m, pressure_m - spread_m, pressure_m + spread_m)
    factor = shown("night_day_factor_h_d")
    inputs |= {
        "condition": condition_row(settings),
        "pressure": pressure_row(pressure, rests_on),
        "factor": factor_row(factor, rests_on),
    }
    sizes = network.cells.reindex(cells)
    background, trace = background_figure(sizes, shown("background_l_s"), settings)
    traces["background leakage"] = trace
    flows.append(background)

    def add(name: str, unit: str, formula: str, column: str, trace: Traced, *rows: Row) -> None:
        seen = shown(column)
        traces[name] = fitted(trace, uncut(trace, seen) if column == "excess_l_s" else seen)
        named = {f"operand:{n}": row for n, row in enumerate(rows)}
        flows.append(Figure(name, unit, formula, seen, traces[name].effects, named))

    def of(name: str, column: str, unit: str, operation: str) -> Row:
        return link(name, shown(column), unit=unit, operation=operation)

    add(
        "excess night flow",
        "L/s",
        "night leakage less the background expected from the components, not below nothing",
        "excess_l_s",
        through(
            lambda leak, back: combine_limits(leak, back, signs=(1, -1)),
            traces["night leakage"],
            traces["background leakage"],
        ),
        of("night leakage", "leakage_l_s", "L/s", "+"),
        of("background leakage", "background_l_s", "L/s", "-"),
    )
    add(
        "night-to-day factor",
        "h/day",
        "sum over 24 hours of (hourly pressure over night pressure) to the power of the exponent; "
        "median of the nights",
        "night_day_factor_h_d",
        traced("factor", factor),
    )
    add(
        DAILY,
        "m³/day",
        "night leakage times the night-to-day factor",
        "leakage_m3_d",
        through(
            lambda leak, hours: scaled(multiply_limits(leak, hours), M3_PER_L_S_H),
            traces["night leakage"],
            traces["night-to-day factor"],
        ),
        of("night leakage", "leakage_l_s", "L/s", "+"),
        of("night-to-day factor", "night_day_factor_h_d", "h/day", "×"),
        Row("m³ an hour by L/s", "derived", "", M3_PER_L_S_H, operation="×"),
    )
    per: tuple[tuple[str, str, str, str, tuple[Row, ...]], ...] = (
        (
            "leakage by connection",
            "L/connection/day",
            "connections_count",
            "connections",
            (Row("L in a m³", "derived", "", 1000.0, operation="×"),),
        ),
        ("leakage by length of mains", "m³/km/day", "mains_km", "km of mains", ()),
    )
    for (name, unit, size, words, scale), column in zip(
        per, ("leakage_l_connection_d", "leakage_m3_km_d"), strict=True
    ):
        amount = sizes[size].to_numpy(dtype=float)
        each = ratio(1000.0 if scale else 1.0, amount)
        add(
            name,
            unit,
            f"daily leakage over {words}",
            column,
            through(lambda daily, by=each: scaled(daily, by), traces[DAILY]),
            of(DAILY, "leakage_m3_d", "m³/day", "+"),
            *scale,
            Row(words, "from the map", "", amount, source="network of the map", operation="÷"),
        )
    least, trace = unavoidable_figure(sizes, pressure, name="unavoidable losses, recent nights")
    flows.append(least)
    traces["least"] = trace
    add(
        "leakage index, recent nights",
        "",
        "daily leakage over unavoidable losses at the zone's pressure",
        "leakage_index",
        through(index_limits, traces[DAILY], traces["least"]),
        of(DAILY, "leakage_m3_d", "m³/day", "+"),
        link(least.name, least.shown, unit="m³/day", operation="÷"),
    )
    flows.append(_inflow(layout, volumes, shown("inflow_m3_d"), settings))
    return flows, inputs


def _flows(
    layout: Metering, night: NightBalance, chosen: Any, shown: Any
) -> tuple[list[Figure], dict[str, Traced], dict[str, Row]]:
    """Minimum night flow, legitimate use and night leakage."""
    cells, average = layout.cells, middle(chosen)
    meters, errors = night_meters(night, average)
    allowed = use_parts(night.allowed.parts, period="night", unit="L/s", operation="+")
    metered = interval_use(
        night,
        wide(night.nights, "measured_use_l_s", cells),
        average,
        systematic=wide(night.spreads, "measured_use_systematic_l_s", cells),
        operation="+",
    )
    uses = {**allowed[0], "interval": metered[0]}
    spread = {**allowed[1], "interval": metered[1]}
    taken = {key: _turned(row) for key, row in uses.items()}
    leakage = {**meters, **taken}
    count = chosen.sum(axis=0)
    said: tuple[tuple[str, str, dict[str, Effect], dict[str, Row], str], ...] = (
        (
            "minimum night flow",
            "minimum_night_flow",
            errors,
            {},
            "lowest rolling hour of net inflow",
        ),
        (
            "legitimate night use",
            "legitimate_use",
            spread,
            uses,
            "measured night use and allowances for the others",
        ),
        (
            "night leakage",
            "leakage",
            {**errors, **spread},
            leakage,
            "zone meters' night flow less legitimate night use",
        ),
    )
    figures, traces, inputs = [], {}, {**uses, **meters}
    for name, column, effects, rows, formula in said:
        value, _, random = median_parts(night, column, cells=cells, chosen=chosen)
        seen = shown(f"{column}_l_s")
        scatter = Z_95 * random
        trace = Traced(value, {**effects, "scatter": (scatter, scatter)})
        # Use is shown as at least zero: what its inputs do is not cut off.
        cut = np.isclose(seen.low, 0.0) & (column == "legitimate_use")
        below = np.where(cut, np.maximum(seen.high - seen.value, seen.value), seen.value - seen.low)
        whole = Estimate(seen.value, seen.value - below, seen.high)
        trace = fitted(taken_up(trace, whole, key="scatter"), whole)
        own = {"scatter": scatter_row(trace.effects["scatter"], count)}
        if rows:
            made = worked_out(rows, len(cells))
            made = np.where(np.isfinite(made), made, 0.0)
            own = adjusted(rows, seen.value, unit="L/s", made=made) | own
        formula = f"{formula}; median of the nights"
        figures.append(Figure(name, "L/s", formula, seen, trace.effects, own))
        traces[name] = trace
        inputs |= own
    return figures, traces, inputs


def _recent_spread(pressures: pd.DataFrame, cells: pd.Index[Any], count: int) -> Array:
    spread = wide(pressures, "spread_m", cells)
    return middle(recent(np.ones(spread.shape, dtype=bool), count=count))(spread)


def _turned(row: Row) -> Row:
    return Row(row.input, row.kind, row.unit, row.value, row.low, row.high, row.source, "-")


def _inflow(layout: Metering, volumes: Volumes, shown: Estimate, settings: Settings) -> Figure:
    counted = recent(np.isfinite(volumes.inflow_m3), count=settings.night.recent_nights)
    rows, effects = volume_rows(layout, volumes, counted, days_count=1.0, unit="m³/day")
    trace = fitted(Traced(shown.value, effects), shown)
    formula = "net volume of the zone meters, mean of the recent days"
    return Figure("net inflow", "m³/day", formula, shown, trace.effects, rows)
