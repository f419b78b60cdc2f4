"""Night flow by month: one row a zone, one column a month."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from district.results import DistrictReport

MONTHS = 12
"""Months shown, the latest; the workbook has all, and weeks, quarters and years."""


@dataclass(frozen=True)
class Months:
    """A table of months; a cell is a row of NIGHT_PERIODS, or empty where a zone has none."""

    months: tuple[str, ...]
    zones: tuple[tuple[str, tuple[dict[str, Any], ...]], ...]
    """Zone and its cells, in the order of `months`."""


def by_month(report: DistrictReport) -> Months:
    """The latest months of every zone, zones in the order of the zone table."""
    table = report.balance.night_periods
    monthly = table[table["period_kind"] == "month"]
    months = tuple(sorted({str(m) for m in monthly["period"]}))[-MONTHS:]
    shown = monthly[monthly["period"].isin(months)]
    cells = {(str(row["cell_id"]), str(row["period"])): dict(row) for _, row in shown.iterrows()}
    order = [str(z) for z in report.balance.zones["cell_id"]]
    known = {zone for zone, _ in cells}
    zones = [z for z in order if z in known] + sorted(known - set(order))
    return Months(months, tuple((z, tuple(cells.get((z, m), {}) for m in months)) for z in zones))
