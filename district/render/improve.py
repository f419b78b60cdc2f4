"""What to measure better: the inputs that make most of each zone's limits."""

from __future__ import annotations

from typing import Any

import pandas as pd
from markupsafe import Markup

from district.render import palette
from district.render.text import escape
from district.results import DistrictReport
from district.words import missing, percent

DAYS = 365
"""Days of the annual balance."""
INPUTS = 3
"""Inputs shown of each place; the workbook has the others."""


def improve(report: DistrictReport) -> list[dict[str, Any]]:
    """Place by place, the district first, then zones worst first: its daily losses and the inputs
    that make most of their limits (rows of IMPROVEMENTS, with `bar` and `share` of each).

    Each is cell_id, now (the daily losses with the limits of today) and inputs.
    """
    table = report.balance.improvements
    zones = report.balance.zones
    now = {str(r["cell_id"]): dict(r) for _, r in zones.iterrows()}
    order = {cell: at for at, cell in enumerate(["district", *now])}
    now["district"] = _of_the_year(report.balance.annual)
    found = []
    ranked = table.sort_values("rank", kind="stable").groupby("cell_id", sort=False).head(INPUTS)
    parts = {str(cell): rows for cell, rows in ranked.groupby("cell_id", sort=False)}
    for cell in sorted(parts, key=lambda c: _place(c, order)):
        rows = parts[cell]
        inputs = [
            {**row, "bar": share_bar(row["variance_share"]), "share": _said(row["variance_share"])}
            for row in (dict(r) for _, r in rows.iterrows())
        ]
        found.append({"cell_id": cell, "now": now.get(cell, {}), "inputs": inputs})
    return found


def share_bar(share: float) -> Markup:
    """A share of one as a bar in a frame, a small inline SVG; "" if unknown."""
    if missing(share):
        return Markup("")
    width = round(80 * min(max(float(share), 0.0), 1.0), 1)
    return Markup(
        '<svg class="share" viewBox="0 0 82 12" width="82" height="12" aria-hidden="true">'
        '<rect x=".5" y=".5" width="81" height="11" fill="#ffffff" stroke="{}"/>'
        '<rect x="1" y="1" width="{}" height="10" fill="{}"/></svg>'
    ).format(escape(palette.QUIET), width, escape(palette.LEAKAGE))


def _said(share: float) -> str:
    return "-" if missing(share) else percent(float(share), decimals=0)


def _of_the_year(annual: pd.DataFrame) -> dict[str, Any]:
    """Real losses of the district as a mean day of the year; nothing where they are not known."""
    rows = annual[(annual["cell_id"] == "district") & (annual["component"] == "real losses")]
    return {
        f"leakage_m3_d{end}": float(row[f"volume_m3{end}"]) / DAYS
        for row in rows.to_dict("records")
        for end in ("", "_low", "_high")
    }


def _place(cell: str, order: dict[str, int]) -> tuple[int, str]:
    return order.get(cell, len(order)), cell
