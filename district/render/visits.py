"""Which zone to visit first, and what the excess costs while it runs."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pandas as pd

from district.render.shifts import accounted_for, shifts
from district.results import DistrictReport
from district.words import EMPTY, figure, missing

DISTRICT = "district"
APPARENT = (
    "Survey nothing here yet: the meter or boundary may make all of this excess. Check it first, "
    "then reckon again."
)


def without_apparent(report: DistrictReport) -> DistrictReport:
    """The report with APPARENT as statement of the zones whose excess a meter or boundary makes:
    the economics know nothing of events."""
    table = report.balance.economics
    apparent = table["cell_id"].isin(accounted_for(report))
    told = table.assign(statement=table["statement"].mask(apparent, APPARENT))
    return replace(report, balance=replace(report.balance, economics=told))


def visits(report: DistrictReport) -> list[dict[str, Any]]:
    """Rows of ECONOMICS in the order of a visit, the district last.

    `shift` says how much a meter or boundary moves the night flow, '' where none does; `pays`
    whether a survey would earn back its cost, and `pays_not` what to say where it would not.
    """
    table = without_apparent(report).balance.economics
    shifted, apparent = shifts(report.events.events), accounted_for(report)
    whole = table["cell_id"] == DISTRICT
    ordered = pd.concat(
        [table[~whole].sort_values("rank", kind="stable", na_position="last"), table[whole]]
    )
    rows = []
    for row in (dict(r) for _, r in ordered.iterrows()):
        earns, cell = row["return_index"], str(row["cell_id"])
        row |= {
            "shift": shifted.get(cell, ("", ""))[1],
            "pays": not missing(earns) and earns > 0 and cell not in apparent,
            "pays_not": EMPTY if missing(earns) or cell in apparent else "not yet",
        }
        rows.append(row)
    return rows


def running_cost(report: DistrictReport) -> str:
    """What the excess of all zones costs a day with its limits, '' where that is not known."""
    table = report.balance.economics
    whole = table[table["cell_id"] == DISTRICT]
    if whole.empty or missing(whole.iloc[0]["excess_day_currency"]):
        return ""
    row = whole.iloc[0]
    name = "excess_day_currency"
    return figure(
        row[name], row[f"{name}_low"], row[f"{name}_high"], name, currency=report.currency
    )
