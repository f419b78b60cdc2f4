"""The inputs of the balance by name: what each is worth, how far it may be off, who says so."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import numpy as np
import pandas as pd

from district.balance.audit_rows import Row
from district.balance.effects import Effect
from district.balance.metering import Metering
from district.balance.night import NightBalance
from district.balance.use import UsePart
from district.balance.volumes import Volumes
from district.estimates import Z_95, Array, Estimate
from district.settings import Settings
from district.words import whole

METERS_LAYER = "readings; error by the meters layer (error_percent, plate)"
ADJUSTMENT = "median of the nights' sums, less the sum of their medians"
Average = Callable[[Array], Array]
"""Nights x places to places: the median or the mean over the nights that count."""


def middle(chosen: Any) -> Average:
    """The median over the `chosen` nights (nights x places)."""

    def median(values: Array) -> Array:
        kept = np.where(chosen, np.broadcast_to(values, chosen.shape), np.nan)
        return np.asarray(pd.DataFrame(kept).median().to_numpy(dtype=float))

    return median


def mean(chosen: Any) -> Average:
    """The mean over the `chosen` nights (nights x places); NaN where none is."""

    def average(values: Array) -> Array:
        count = chosen.sum(axis=0)
        total = np.where(chosen, np.broadcast_to(values, chosen.shape), 0.0).sum(axis=0)
        return np.where(count > 0, total / np.maximum(count, 1), np.nan)

    return average


def device_name(layout: Metering, meter: str) -> str:
    """A device at the edge of a cell in words: a tank takes and gives as a meter counts."""
    known = meter.partition(" ")[2] if layout.apart else meter
    return f"what tank {known} stored" if known in layout.tanks else f"zone meter {known}"


def meters_by_place(layout: Metering) -> list[tuple[Array, Array, Any]]:
    """The zone meters of each cell, one a step: position, sign (0 where no more are), name."""
    signs = layout.signs.tocsr()
    counts = np.diff(signs.indptr)
    steps = []
    for step in range(int(counts.max(initial=0))):
        there = counts > step
        at = np.where(there, np.minimum(signs.indptr[:-1] + step, len(signs.indices) - 1), 0)
        meter = np.where(there, signs.indices[at], 0)
        sign = np.where(there, signs.data[at], 0.0)
        named = [
            device_name(layout, layout.meters[m]) if s else ""
            for m, s in zip(meter, sign, strict=True)
        ]
        steps.append((meter, sign, np.array(named, dtype=object)))
    return steps


def volume_rows(
    layout: Metering,
    volumes: Volumes,
    counted: Any,
    *,
    days_count: float,
    unit: str,
    without: Any = False,
) -> tuple[dict[str, Row], dict[str, Effect]]:
    """Mean volume of each cell's zone meters over the `counted` days (days x cells), for so many
    days, and what their errors do to it; those `without` (true by meter) are left out."""
    means = volumes.edge_means_m3_d(layout, counted=counted).tocsr().data * days_count
    errors = np.abs(volumes.edge_errors_m3_d(layout, counted=counted).tocsr().data) * days_count
    signs = layout.signs.tocsr()
    counts = np.diff(signs.indptr)
    left_out = np.broadcast_to(without, len(layout.meters))
    rows, effects = {}, {}
    for step, (meter, sign, name) in enumerate(meters_by_place(layout)):
        there = (counts > step) & ~left_out[meter]
        at = np.where(there, np.minimum(signs.indptr[:-1] + step, len(means) - 1), 0)
        value = np.where(there, means[at] * sign, np.nan)
        error = np.where(there, errors[at], 0.0)
        sign = np.where(there, sign, 0.0)
        operation = np.where(sign > 0, "+", np.where(sign < 0, "-", "")).astype(object)
        key = f"volume:{step}"
        rows[key] = Row(
            name, "measured", unit, value, value - error, value + error, METERS_LAYER, operation
        )
        effects[key] = (error, error)
    return rows, effects


def night_meters(night: NightBalance, average: Average) -> tuple[dict[str, Row], dict[str, Effect]]:
    """Night flow of each cell's zone meters over some nights, and what their errors do to it."""
    rows, effects = {}, {}
    for step, (meter, sign, name) in enumerate(meters_by_place(night.layout)):
        flow = average(night.edges.value[:, meter])
        error = average((night.edges.high - night.edges.value)[:, meter])
        operation = np.where(sign > 0, "+", np.where(sign < 0, "-", "")).astype(object)
        there = sign != 0
        flow, error = np.where(there, flow, np.nan), np.where(there, error, 0.0)
        key = f"meter:{step}"
        rows[key] = Row(
            name, "measured", "L/s", flow, flow - error, flow + error, METERS_LAYER, operation
        )
        effects[key] = (error, error)
    return rows, effects


def use_parts(
    parts: tuple[UsePart, ...], *, period: str, unit: str, days_count: float = 1.0, operation: str
) -> tuple[dict[str, Row], dict[str, Effect]]:
    """Use by allowance, a row a class or exceptional user; `period` is night or day."""
    rows, effects = {}, {}
    for part in parts:
        value, half = part.mean * days_count, Z_95 * part.systematic * days_count
        named = [
            f"{period} use of {whole(n)} {part.name} properties"
            if n
            else f"{period} use: {part.name}"
            for n in part.properties
        ]
        flow = np.where(value != 0, value, np.nan)
        key = f"{period}:{part.name}"
        rows[key] = Row(
            np.array(named, dtype=object),
            "allowance",
            unit,
            flow,
            flow - half,
            flow + half,
            f"{part.setting} in district.toml",
            operation,
        )
        effects[key] = (half, half)
    return rows, effects


def interval_use(
    night: NightBalance, use: Array, average: Average, *, systematic: Array, operation: str
) -> tuple[Row, Effect]:
    """Night use of users with interval meters (`use` nights x cells), as one input."""
    flow, half = average(use), Z_95 * average(systematic)
    flow = np.where((flow != 0) | (half > 0), flow, np.nan)
    row = Row(
        f"night use of users with interval meters ({whole(len(night.interval_meters))} in the "
        "district)",
        "measured",
        "L/s",
        flow,
        flow - half,
        flow + half,
        METERS_LAYER,
        operation,
    )
    return row, (half, half)


def adjusted(rows: dict[str, Row], value: Array, *, unit: str, made: Array) -> dict[str, Row]:
    """The rows, with what medians of sums differ from sums of medians as one more."""
    apart = value - made
    apart = np.where(np.abs(apart) > 1e-12 * np.maximum(np.abs(value), 1.0), apart, np.nan)
    row = Row(ADJUSTMENT, "derived", unit, apart, source="readings", operation="+")
    return {**rows, "adjustment": row}


def scatter_row(effect: Effect, count: Array) -> Row:
    """What differs from night to night: lumpy draws, steps of meters, what the record shows."""
    named = [f"scatter of {whole(n)} nights: lumpy draws, steps of meters" for n in count]
    return Row(
        np.array(named, dtype=object),
        "measured",
        "L/s",
        0.0,
        -effect[0],
        effect[1],
        "readings of these nights",
    )


def condition_row(settings: Settings) -> Row:
    """The condition factor of the background."""
    b = settings.background
    return Row(
        "condition factor of the background",
        "assumed",
        "",
        b.condition_factor,
        b.condition_factor_low,
        b.condition_factor_high,
        "[background] condition_factor in district.toml",
        "×",
    )


def pressure_row(pressure: Estimate, rests_on: Any) -> Row:
    """The average zone pressure, and whether a logger tells it."""
    assumed = rests_on == "assumed"
    return Row(
        "average zone pressure",
        np.where(assumed, "assumed", "measured").astype(object),
        "m",
        *pressure,
        source=np.where(
            assumed, "[pressure] assumed_m in district.toml", "pressure loggers and levels"
        ).astype(object),
    )


def factor_row(factor: Estimate, rests_on: Any) -> Row:
    """The night-to-day factor: its limits are those of the exponent, or of not knowing it."""
    assumed = rests_on == "assumed"
    return Row(
        np.where(
            assumed,
            "night-to-day factor: no hourly pressure",
            "night-to-day factor: exponent and daily course of pressure",
        ).astype(object),
        np.where(assumed, "assumed", "derived").astype(object),
        "h/day",
        *factor,
        source=np.where(
            assumed, "common practice", "[pressure] exponent in district.toml; hourly pressure"
        ).astype(object),
    )
