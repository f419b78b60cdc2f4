"""The workbook's audit: one block a figure, its inputs beneath it, live formulas where cells can
hold them."""

from __future__ import annotations

from typing import Any

import pandas as pd

from district.render.audit_formulas import COLUMNS, live_rows
from district.words import missing

NAME = "audit"
MOST_PLACES = 40
"""Places on the sheet; a spreadsheet with more rows of formulas opens slowly."""
HEAD = 2
"""Rows above the first figure."""
NOTE = (
    "Each figure (bold) is its + rows less its - rows, times its × rows, over its ÷ rows; its "
    "limits are the root of the summed squares of what each input does to it. Change an input or "
    "its limits where it is first told, and the figures follow. "
)
TITLES = (
    ("Place", 12), ("Figure", 26), ("Input", 44), ("Rests on", 12), ("Enters", 8),
    ("Value", 12), ("Low (95 %)", 12), ("High (95 %)", 12), ("Unit", 16), ("Lowers it by", 12),
    ("Raises it by", 12), ("Share of variance", 10), ("In this sheet", 28), ("Formula", 60),
    ("Source", 52),
)  # fmt: skip
TEXTS = {0: "cell_id", 1: "figure", 2: "input", 3: "kind", 4: "operation", 8: "unit", 14: "source"}


def write_audit(book: Any, page: Any, audit: pd.DataFrame) -> None:
    """Fill the sheet `page` of `book` with table AUDIT."""
    places = list(dict.fromkeys(audit["cell_id"]))
    shown = places[:MOST_PLACES]
    table = audit[audit["cell_id"].isin(shown)].reset_index(drop=True)
    rows: list[dict[str, Any]] = [
        {str(k): v for k, v in r.items()} for r in table.to_dict("records")
    ]
    left = len(places) - len(shown)
    note = NOTE + (f"{left} further places stand in tables/audit.csv." if left else "")
    formats = _formats(book)
    page.write_string(0, 0, note, formats["plain"])
    for number, (title, width) in enumerate(TITLES):
        page.set_column(number, number, width)
        page.write_string(1, number, title, formats["head"])
    page.freeze_panes(HEAD, 3)
    page.autofilter(HEAD - 1, 0, HEAD + max(len(rows), 1) - 1, len(TITLES) - 1)
    numbers = {ord(letter) - ord("A"): name for name, letter in COLUMNS.items()}
    for at, (row, live) in enumerate(zip(rows, live_rows(rows, first=HEAD + 1), strict=True), HEAD):
        kind = "figure" if row["rank"] == 0 else "plain"
        texts = {**{n: row[name] for n, name in TEXTS.items()}, 12: live.said, 13: row["formula"]}
        for number, text in texts.items():
            if not missing(text):
                page.write_string(at, number, str(text), formats[kind])
            elif kind == "figure":
                page.write_blank(at, number, None, formats[kind])
        for number, name in numbers.items():
            shape = formats[f"{kind} share" if name == "variance_share" else f"{kind} number"]
            value = row[name]
            if missing(value):
                page.write_blank(at, number, None, shape)
            elif name in live.formulas:
                page.write_formula(at, number, live.formulas[name], shape, float(value))
            else:
                page.write_number(at, number, float(value), shape)


def _formats(book: Any) -> dict[str, Any]:
    figure = {"bold": True, "top": 1, "bg_color": "#F3F4F2"}
    kinds: dict[str, dict[str, Any]] = {"plain": {}, "figure": figure}
    made = {
        f"{kind}{suffix}": book.add_format({**base, **extra})
        for kind, base in kinds.items()
        for suffix, extra in (
            ("", {}),
            (" number", {"num_format": "#,##0.0000"}),
            (" share", {"num_format": "0.0%"}),
        )
    }
    head = {"bold": True, "text_wrap": True, "valign": "top", "bg_color": "#E9EBE8", "bottom": 1}
    return {**made, "head": book.add_format(head)}
