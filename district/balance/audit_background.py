"""The audit of what leaks anyway: background leakage and unavoidable losses, by component."""

from __future__ import annotations

import numpy as np
import pandas as pd

from district.balance.audit_inputs import condition_row
from district.balance.audit_rows import Figure, Row
from district.balance.effects import Traced, traced
from district.balance.indicators import ratio, unavoidable_losses_l_d
from district.balance.leak_law import REFERENCE_M
from district.estimates import Array, Estimate
from district.settings import Settings
from district.words import rounded


def background_figure(
    sizes: pd.DataFrame, shown: Estimate, settings: Settings
) -> tuple[Figure, Traced]:
    """Background leakage: limits of the condition factor, the rest those of pressure."""
    b = settings.background
    parts = {
        "mains_km": (b.mains_l_km_h, "km of mains", "L/km/h"),
        "connections_count": (b.connection_l_connection_h, "connections", "L/connection/h"),
        "private_km": (b.private_l_km_h, "km of private pipe", "L/km/h"),
    }
    rows: dict[str, Row] = {}
    hourly = np.zeros(len(sizes))
    for column, (rate, words, unit) in parts.items():
        amount = sizes[column].to_numpy(dtype=float)
        hourly = hourly + amount * rate
        named = _named(amount, column, f"{words} at {rate:g} {unit}")
        rows[column] = Row(
            named, "from the map", "L/h", amount * rate, source="[background]", operation="+"
        )
    plain = hourly * b.condition_factor / 3600.0
    raised = ratio(shown.value, plain)
    rows["hours"] = Row("seconds in an hour", "derived", "", 3600.0, operation="÷")
    rows["condition"] = condition_row(settings)
    rows["raised"] = Row(
        f"(night pressure over {REFERENCE_M:g} m) to the power {b.exponent:g}",
        "derived",
        "",
        raised,
        source="zone pressure; [background] exponent",
        operation="×",
    )
    lowest, highest = b.condition_factor_low, b.condition_factor_high
    share = (1.0 - lowest / b.condition_factor, highest / b.condition_factor - 1.0)
    effects = {}
    sides = (shown.value - shown.low, shown.high - shown.value)
    condition = [np.minimum(shown.value * s, side) for s, side in zip(share, sides, strict=True)]
    left = [np.sqrt(np.maximum(s**2 - c**2, 0.0)) for s, c in zip(sides, condition, strict=True)]
    effects["condition"] = (condition[0], condition[1])
    effects["pressure"] = (left[0], left[1])
    figure = Figure(
        "background leakage",
        "L/s",
        "components at 50 m times the condition factor, at the zone's night pressure; median of "
        "the nights",
        shown,
        effects,
        rows,
    )
    return figure, Traced(shown.value, effects)


def unavoidable_figure(
    sizes: pd.DataFrame, pressure: Estimate, *, name: str, days_count: float = 1.0
) -> tuple[Figure, Traced]:
    """Unavoidable losses of cells at `pressure`, m3 in so many days; limits those of pressure."""
    km, count, private = (
        sizes[c].to_numpy(dtype=float) for c in ("mains_km", "connections_count", "private_km")
    )

    def at(pressure_m: Array) -> Array:
        litres = unavoidable_losses_l_d(
            km, connections_count=count, private_km=private, pressure_m=pressure_m
        )
        return litres / 1000.0 * days_count

    def _one(rate: float, amount: Array, column: str, words: str) -> Row:
        named = _named(amount, column, f"{words} at {rate:g} L/day/m")
        source = "Lambert et al. 1999 (from memory)"
        return Row(named, "from the map", "L/day/m", rate * amount, source=source, operation="+")

    shown = Estimate(*(at(p) for p in pressure))
    rows = {
        "mains": _one(18.0, km, "mains_km", "km of mains"),
        "connections": _one(0.8, count, "connections_count", "connections"),
        "private": _one(25.0, private, "private_km", "km of private pipe"),
        "metres": Row("average zone pressure", "derived", "m", pressure.value, operation="×"),
        "litres": Row("L in a m³", "derived", "", 1000.0, operation="÷"),
    }
    if days_count != 1.0:
        rows["days"] = Row("days", "counted", "", days_count, operation="×")
    trace = traced("pressure", shown)
    unit = "m³/day" if days_count == 1.0 else "m³"
    formula = "(18 km of mains + 0.8 connections + 25 km of private pipe) times pressure"
    return Figure(name, unit, formula, shown, trace.effects, rows), trace


def _named(amount: Array, column: str, words: str) -> Array:
    """The name of a row by the size of each cell, to the digits that the map supports."""
    return np.array([f"{rounded(a, name=column)[0]} {words}" for a in amount], dtype=object)
