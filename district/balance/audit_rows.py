"""The rows of the audit: a figure, what it is worked out from, and what makes its limits."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import Any

import numpy as np
import pandas as pd

from district.balance.effects import REST, Effect, variance_shares
from district.estimates import Array, Estimate
from district.schema.audited import AUDIT
from district.schema.columns import empty

SAME = 1e-9
"""A figure and its inputs agree to this share of the larger of them, or the inputs are not shown
as its arithmetic."""


@dataclass(frozen=True, eq=False)
class Row:
    """One input of some places: text is one for all places or an array, numbers are arrays.

    `operation` +, -, × or ÷, or '' where the input makes limits alone.
    """

    input: Any
    kind: Any
    unit: str
    value: Any
    low: Any = np.nan
    high: Any = np.nan
    source: Any = ""
    operation: Any = ""


@dataclass(frozen=True, eq=False)
class Figure:
    """A figure of some places as the balance shows it, its `effects` and `rows` by key.

    Rows that stand under a key of `effects` carry them; an effect without a row here takes its
    row from the inputs all figures share.
    """

    name: str
    unit: str
    formula: str
    shown: Estimate
    effects: Mapping[str, Effect]
    rows: Mapping[str, Row] = field(default_factory=dict)


def link(name: str, figure: Estimate, *, unit: str, operation: Any) -> Row:
    """Another figure of the same place as an input."""
    return Row(name, "derived", unit, *figure, source="figure above", operation=operation)


def rest_row(unit: str) -> Row:
    """What the limits hold beyond the inputs that are told apart."""
    return Row("what is not told apart", "derived", unit, np.nan, source="the balance's limits")


def audit_rows(
    areas: Sequence[str], figures: Sequence[Figure], *, inputs: Mapping[str, Row]
) -> pd.DataFrame:
    """Table AUDIT of these places, figure by figure; places without a figure lack its rows."""
    count = len(areas)
    pieces: list[dict[str, Any]] = []
    for number, figure in enumerate(figures):
        there = np.isfinite(figure.shown.value)
        rows = dict(figure.rows)
        for key in figure.effects:
            if key not in rows:
                spare = rest_row(figure.unit) if key == REST else inputs[key]
                rows[key] = replace(spare, operation="")
        agrees = _agrees(figure, rows, count)
        shares = variance_shares(figure.effects)
        total = Row("", "figure", figure.unit, *figure.shown, operation="=")
        pieces.append(_piece(areas, total, figure, there, (number, 0)))
        for place, (key, row) in enumerate(rows.items(), 1):
            operation = np.where(agrees, np.asarray(row.operation, dtype=object), "")
            operation = np.broadcast_to(operation, count)
            nothing = (np.zeros(count), np.zeros(count))
            down, up = (np.broadcast_to(e, count) for e in figure.effects.get(key, nothing))
            does = (np.nan_to_num(down) > 0) | (np.nan_to_num(up) > 0)
            shown = there & (does | ((operation != "") & np.isfinite(_wide(row.value, count))))
            piece = _piece(areas, row, figure, shown, (number, place))
            piece["operation"] = operation[shown]
            caused = key in figure.effects
            for name, values in (("lowers", down), ("raises", up)):
                piece[name] = np.nan_to_num(values)[shown] if caused else np.nan
            share = np.broadcast_to(shares.get(key, np.nan), count)
            piece["variance_share"] = share[shown]
            pieces.append(piece)
    if not pieces:
        return empty(AUDIT)
    sizes = [len(p["at"]) for p in pieces]
    table = pd.DataFrame({name: _stacked([p[name] for p in pieces], sizes) for name in pieces[0]})
    table = table.sort_values(["at", "number", "place"], kind="stable", ignore_index=True)
    table["rank"] = table.groupby(["at", "number"]).cumcount().astype(float)
    return table[list(AUDIT.names())]


def worked_out(rows: Mapping[str, Row], count: int) -> Array:
    """The figure of each of `count` places by the operations of its rows; NaN where none adds."""
    added, times, adds = np.zeros(count), np.ones(count), np.zeros(count, dtype=bool)
    for row in rows.values():
        value, sign = _wide(row.value, count), np.broadcast_to(row.operation, count)
        known = np.isfinite(value)
        added = added + np.where((sign == "+") & known, value, 0.0)
        added = added - np.where((sign == "-") & known, value, 0.0)
        times = times * np.where(sign == "×", value, 1.0)
        times = times / np.where(sign == "÷", np.where(value != 0, value, np.nan), 1.0)
        adds = adds | (np.isin(sign, ("+", "-")) & known)
    return np.where(adds, added * times, np.nan)


def _agrees(figure: Figure, rows: Mapping[str, Row], count: int) -> Any:
    made, shown = worked_out(rows, count), figure.shown.value
    sizes = [np.abs(np.nan_to_num(_wide(r.value, count))) for r in figure.rows.values()]
    size = np.maximum.reduce([np.abs(np.nan_to_num(shown)), *sizes])
    # A figure that is not shown below nothing is 0 where its rows give less.
    return (np.abs(made - shown) <= SAME * size) | ((shown == 0) & (made < 0))


def _piece(
    areas: Sequence[str], row: Row, figure: Figure, shown: Any, order: tuple[int, int]
) -> dict[str, Any]:
    count = len(areas)
    at = np.flatnonzero(shown)
    piece: dict[str, Any] = {
        "at": at,
        "number": order[0],
        "place": order[1],
        "cell_id": np.asarray(areas, dtype=object)[at],
        "figure": figure.name,
        "input": _texts(row.input, count)[at],
        "kind": _texts(row.kind, count)[at],
        "operation": row.operation if order[1] == 0 else "",
        "unit": row.unit,
        "formula": figure.formula if order[1] == 0 else "",
        "source": _texts(row.source, count)[at],
    }
    for name, values in (("value", row.value), ("value_low", row.low), ("value_high", row.high)):
        piece[name] = _wide(values, count)[at]
    for name in ("lowers", "raises", "variance_share"):
        piece[name] = np.full(len(at), np.nan)
    return piece


def _stacked(parts: list[Any], sizes: list[int]) -> Any:
    wide = [
        p
        if isinstance(p, np.ndarray)
        else np.full(n, p, dtype=object if isinstance(p, str) else float)
        for p, n in zip(parts, sizes, strict=True)
    ]
    return np.concatenate(wide)


def _wide(values: Any, count: int) -> Array:
    return np.broadcast_to(np.asarray(values, dtype=float), count)


def _texts(values: Any, count: int) -> Any:
    return np.broadcast_to(np.asarray(values, dtype=object), count)
