"""The audit of the annual balance and its indicators, of the district and of each zone."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import pandas as pd

from district.balance.annual import LINES, YEAR_D, complete_balance
from district.balance.audit_leaves import DERIVED, WORDS, Year, lines_of
from district.balance.audit_rows import Figure, Row, link
from district.balance.effects import Traced, fitted, limits_of, through, through_all
from district.balance.grids import estimate_in
from district.balance.indicators import index_limits, ratio, share_limits
from district.estimates import Estimate, estimate, scaled

REAL = WORDS["real"]
"""The headline of the district."""
FORMULAS = {
    "system_input": "net volume of the zone meters, mean of the counted days times 365",
    "billed_metered": "volume of the users' meters, mean of the counted days times 365",
    "billed_unmetered": "allowances of the users without meter readings times 365",
    "own": "net volume of the zone meters that do not import",
    "imported": "volume of the meters that import",
    "billed_exported": "volume of the outlet meters that sell",
    "unbilled_metered": "volume of the meters of unbilled classes",
    "unbilled_unmetered": "a share of system input",
    "unauthorised": "a share of system input",
    "meter_error": "what customers' meters miss: V / (1 - share) - V",
    "data_error": "a share of what the users' meters registered",
    "mains": "the real losses apportioned by component",
    "tanks": "as told",
    "services": "the real losses apportioned by component",
    "bottom_up": "night leakage times night-to-day factor, mean of the year's nights, times 365",
}


def year_figures(year: Year, annual: pd.DataFrame, indicators: pd.DataFrame) -> list[Figure]:
    """Figures of tables ANNUAL and INDICATORS over the areas of `year`."""
    lines = lines_of(annual, year.areas)
    table = indicators.set_index("cell_id").reindex(year.areas)

    def shown(name: str) -> Estimate:
        return estimate_in(table, name)

    traces = _lines(year, lines)
    figures = [_line(key, year, lines, traces) for key, *_ in LINES]
    least = Figure(
        "unavoidable losses of the year",
        "m³",
        "(18 km of mains + 0.8 connections + 25 km of private pipe) times pressure times 365",
        limits_of(year.least),
        year.least.effects,
        year.least_rows,
    )
    real = link(REAL, lines["real"], unit="m³", operation="+")
    figures.append(least)

    def add(name: str, unit: str, formula: str, column: str, trace: Traced, *rows: Row) -> None:
        seen = shown(column)
        named = {f"operand:{n}": row for n, row in enumerate(rows)}
        effects = fitted(trace, seen).effects
        figures.append(Figure(name, unit, formula, seen, effects, named))

    add(
        "leakage index of the year",
        "",
        "real losses over unavoidable losses",
        "leakage_index",
        through(index_limits, traces["real"], year.least),
        real,
        link(least.name, least.shown, unit="m³", operation="÷"),
    )
    days = Row("days", "counted", "", float(YEAR_D), operation="÷")
    litres = Row("L in a m³", "derived", "", 1000.0, operation="×")
    source = "network of the map"
    by_connection, by_km = (
        ratio(scale / YEAR_D, size) for scale, size in ((1000.0, year.connections), (1.0, year.km))
    )
    add(
        "real losses by connection",
        "L/connection/day",
        "real losses over 365 days and connections",
        "leakage_l_connection_d",
        through(lambda part: scaled(part, by_connection), traces["real"]),
        real,
        litres,
        days,
        Row("connections", "from the map", "", year.connections, source=source, operation="÷"),
    )
    add(
        "real losses by length of mains",
        "m³/km/day",
        "real losses over 365 days and km of mains",
        "leakage_m3_km_d",
        through(lambda part: scaled(part, by_km), traces["real"]),
        real,
        days,
        Row("km of mains", "from the map", "", year.km, source=source, operation="÷"),
    )
    add(
        "non-revenue share",
        "",
        "non-revenue water over system input volume",
        "non_revenue_share",
        through(share_limits, traces["billed"], traces["system_input"]),
        link(WORDS["non_revenue"], lines["non_revenue"], unit="m³", operation="+"),
        link(WORDS["system_input"], lines["system_input"], unit="m³", operation="÷"),
    )
    return figures


def _leaf_keys() -> Sequence[str]:
    return [key for key, _, _, rests in LINES if rests not in DERIVED and key != "bottom_up"]


def _lines(year: Year, lines: dict[str, Estimate]) -> dict[str, Traced]:
    """Every line followed to its inputs, through the balance's own sums and differences."""
    keys = _leaf_keys()
    made = through_all(
        lambda *parts: complete_balance(dict(zip(keys, parts, strict=True))),
        *(year.leaves[key] for key in keys),
    )
    derived = {key: fitted(made[key], lines[key]) for key in made if key not in keys}
    return {**year.leaves, **derived}


def _line(key: str, year: Year, lines: dict[str, Estimate], traces: dict[str, Traced]) -> Figure:
    if key in year.leaves:
        rows, formula = dict(year.rows.get(key, {})), FORMULAS.get(key, "as told")
    else:
        rows, parts = {}, []
        for leaf, sign in _signs(key).items():
            operation = "+" if sign > 0 else "-"
            rows[f"line:{leaf}"] = link(WORDS[leaf], lines[leaf], unit="m³", operation=operation)
            parts.append(f"{operation} {WORDS[leaf]}")
        formula = " ".join(parts).removeprefix("+ ")
    return Figure(WORDS[key], "m³", formula, lines[key], traces[key].effects, rows)


def _signs(key: str) -> dict[str, float]:
    """How each leaf enters a line: the line's change when the leaf grows by 1."""
    keys = _leaf_keys()
    nothing = {leaf: estimate(np.zeros(1)) for leaf in keys}
    changes = {
        leaf: float(complete_balance({**nothing, leaf: estimate(np.ones(1))})[key].value[0])
        for leaf in keys
    }
    return {leaf: change for leaf, change in changes.items() if change}
