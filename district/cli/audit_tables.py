"""Tables of the audit: what each figure is made of, and which datum to improve first."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

import pandas as pd
from rich.padding import Padding
from rich.table import Table
from rich.text import Text

from district.cli.balance_tables import DISTRICT
from district.cli.layout import or_none, titled
from district.errors import Finding, InputError
from district.words import EMPTY, closest, missing, percent, rounded, spelled, unit

LEAST_SHARE = 0.01
"""An input with less of a figure's variance than this is counted, not named ..."""
INPUTS = 3
"""... where the figure has more than so many. And the inputs named as worth measuring better."""


def improvements_table(
    improvements: pd.DataFrame, audit: pd.DataFrame, names: pd.Series[Any]
) -> Table:
    """For each place the data that widen the limits of its leakage most."""
    table = titled(
        "What to measure better: the inputs that make most of the uncertainty",
        "Leakage, and its inputs",
        "Rests on",
        "Share of\nvariance\n%",
        "Limits would\nbe narrower\nby %",
        left=2,
    )
    figures = audit[audit["rank"] == 0].set_index(["cell_id", "figure"], drop=False)
    for (cell_id, figure), rows in improvements.groupby(["cell_id", "figure"], sort=False):
        value = _value(figures.loc[(cell_id, figure)].to_dict()).replace("\n", " ")
        if table.row_count:
            table.add_row(*("",) * 4)
        table.add_row(Text(f"{names.get(cell_id, cell_id)}, {figure}: {value}"), "", "", "")
        for row in rows.head(INPUTS).to_dict("records"):
            table.add_row(
                Padding(Text(str(row["input"])), (0, 0, 0, 2)),
                spelled(row["kind"]),
                _share(row["variance_share"]),
                _share(row["narrower_share"]),
            )
    return or_none(table)


def audit_table(audit: pd.DataFrame, cell_id: str, name: str) -> Table:
    """Every figure of one place, with its formula, and beneath it the inputs it is made of."""
    table = titled(
        f"Every figure of {name}, what it is made of and what makes its limits",
        "Figure, and its inputs",
        "Value (95 % limits)",
        "Rests on",
        "Share of\nvariance\n%",
        "How, or from where",
    )
    for n in (1, 2, 4):
        table.columns[n].justify = "left"
        table.columns[n].no_wrap = False
    rows = audit[audit["cell_id"] == cell_id]
    for _, figure in rows.groupby("figure", sort=False):
        if table.row_count:
            table.add_row(*("",) * 5)
        for row in _said(figure.to_dict("records")):
            table.add_row(*row)
    return table


def place(audit: pd.DataFrame, names: pd.Series[Any], wanted: str) -> tuple[str, str]:
    """Id and name of the place that `wanted` names by either; `InputError` if there is none."""
    places = dict.fromkeys(audit["cell_id"])
    known = {str(c): "the district" if c == DISTRICT else str(names.get(c, c)) for c in places}
    for cell_id, name in known.items():
        if wanted.casefold() in (cell_id.casefold(), name.casefold()):
            return cell_id, name
    near = closest(wanted, [*known, *(n for c, n in known.items() if c != DISTRICT)])
    raise InputError(
        [
            Finding(
                "error",
                "--zone",
                got=f'"{wanted}"{near}',
                expected=f"one of {', '.join(known)}",
                remedy="Give the id or the name of a zone, or 'district' for the whole",
            )
        ]
    )


def _said(rows: list[dict[str, Any]]) -> Iterator[tuple[Any, ...]]:
    """The cells of one figure: itself, its inputs, and how many that hardly matter are left out."""
    # What enters the sum stays, however little it adds to the limits: the rows have to add up.
    slight = [
        row
        for row in rows
        if row["rank"] != 0 and missing(row["operation"]) and row["variance_share"] < LEAST_SHARE
    ]
    left = slight if len(rows) > INPUTS + 1 else []
    for row in rows:
        if any(row is one for one in left):
            continue
        figure, share = row["rank"] == 0, row["variance_share"]
        source = row["formula"] if figure else row["source"]
        yield (
            Padding(Text(_named(row)), (0, 0, 0, 0 if figure else 2)),
            _value(row),
            "" if figure else spelled(row["kind"]),
            "" if figure or missing(share) else _share(share),
            Text("" if missing(source) else str(source)),
        )
    if left:
        others = "1 other, of less" if len(left) == 1 else f"{len(left)} others, each of less"
        yield Padding(Text(others), (0, 0, 0, 2)), "", "", f"< {100 * LEAST_SHARE:g}", ""


def _named(row: dict[str, Any]) -> str:
    if row["rank"] == 0:
        return str(row["figure"])
    sign = "" if missing(row["operation"]) else f"{row['operation']} "
    return f"{sign}{row['input']}"


def _value(row: dict[str, Any]) -> str:
    is_share = row["rank"] == 0 and str(row["figure"]).endswith("share")
    name = "of_share" if is_share else ""
    value, low, high = rounded(row["value"], row["value_low"], row["value_high"], name)
    label = unit(name) if is_share else row["unit"]
    if value == EMPTY:
        return EMPTY
    shown = value if missing(label) else f"{value} {label}"
    return f"{shown}\n({low} to {high})" if low else shown


def _share(share: float) -> str:
    if not share:
        return "0"
    return percent(share, decimals=0).removesuffix(" %") if share >= LEAST_SHARE else "< 1"
