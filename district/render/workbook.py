"""The workbook: every table on its sheet, headings from the schema, sums as live formulas."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pandas as pd
from xlsxwriter.utility import xl_col_to_name

from district.render import audit_sheet
from district.render.book import Style, fill_sheet, live_sums, said_sheet, whole_book
from district.render.explain import MEANINGS
from district.render.formulas import balance_terms
from district.render.reservations import every
from district.render.tables import DEFAULTS, result_tables
from district.results import DistrictReport
from district.schema import (
    annual_tables,
    audited,
    event_tables,
    located,
    night_tables,
    outputs,
    pressures,
    reconciled,
)
from district.words import CAUTION, EMPTY, period, plural

SHEETS: dict[str, str] = {
    outputs.ZONES.name: "zones",
    event_tables.EVENTS.name: "events",
    event_tables.EVENT_CAUSES.name: "event causes",
    event_tables.REPAIR_CHECKS.name: "repair checks",
    event_tables.BUILDING_CHECKS.name: "building meters",
    event_tables.SENSOR_CHECKS.name: "alarm sensors",
    event_tables.SHUTOFF_SETTINGS.name: "shut-off settings",
    event_tables.SHUTOFF_CURVE.name: "shut-off trade-off",
    reconciled.METER_CHECKS.name: "meter checks",
    reconciled.ZONE_CHECKS.name: "zone checks",
    reconciled.WITHOUT_METER.name: "without meter",
    annual_tables.ECONOMICS.name: "which zone first",
    outputs.STRETCHES.name: "stretches",
    outputs.LIKELIHOOD.name: "pipe parts",
    outputs.SEARCH_SETS.name: "walks",
    located.EVIDENCE.name: "evidence",
    located.LOGGER_CHECKS.name: "logger checks",
    located.CALIBRATION.name: "roughness",
    located.DETECTABILITY.name: "smallest leak shown",
    located.ZONE_REACH.name: "walk by leak size",
    located.NEXT_DEVICES.name: "next devices",
    outputs.NIGHTS.name: "nights",
    located.NIGHT_NOISE.name: "night noise",
    night_tables.NIGHT_PERIODS.name: "night periods",
    night_tables.NIGHT_USERS.name: "night users",
    outputs.ANNUAL.name: "annual balance",
    outputs.INDICATORS.name: "indicators",
    annual_tables.LOSS_GAPS.name: "two ways to losses",
    annual_tables.GAP_CAUSES.name: "gap causes",
    pressures.ZONE_PRESSURE.name: "pressure",
    pressures.ZONE_EXPONENTS.name: "exponents",
    outputs.FINDINGS.name: "findings",
    audited.IMPROVEMENTS.name: "improve first",
}
"""Table -> name of its sheet, in the order of the sheets."""
_SUMMED = (
    "mains_km", "connections_count", "properties_count", "inflow_m3_d", "leakage_l_s",
    "background_l_s", "excess_l_s", "leakage_m3_d",
)  # fmt: skip


def write_workbook(report: DistrictReport, path: Path) -> Path:
    """Write the workbook to `path`, whole or not at all; the same bytes from the same report.

    Raises `OutputError` where it cannot be written.
    """
    frames = {table.name: (table, frame) for table, frame in result_tables(report)}
    with whole_book(path, title=report.name, last=report.balance.basis.last) as book:
        style = Style(book, report.currency)
        for name, sheet in SHEETS.items():
            table, frame = frames[name]
            page = book.add_worksheet(sheet)
            fill_sheet(page, table, frame, style)
            if table is outputs.ANNUAL:
                _live_balance(page, frame, style)
            elif table is outputs.ZONES and len(frame) > 1:
                live_sums(page, table, frame, style, beside="name", summed=_SUMMED)
            elif table is outputs.SEARCH_SETS:
                _live_shares(page, frame, style)
        audit_sheet.write_audit(book, book.add_worksheet(audit_sheet.NAME), report.balance.audit)
        _assumptions(book.add_worksheet("assumptions"), report, frames[DEFAULTS.name][1], style)
    return path


def _live_balance(page: Any, annual: pd.DataFrame, style: Style) -> None:
    number = outputs.ANNUAL.names().index("volume_m3")
    letter = xl_col_to_name(number)
    shown = style.number(outputs.ANNUAL["volume_m3"])
    for row, (plus, minus) in balance_terms(annual).items():
        sums = "+".join(f"{letter}{r + 2}" for r in plus)
        takes = "".join(f"-{letter}{r + 2}" for r in minus)
        page.write_formula(
            row + 1, number, f"={sums}{takes}", shown, float(annual["volume_m3"].iloc[row])
        )


def _live_shares(page: Any, sets: pd.DataFrame, style: Style) -> None:
    names = outputs.SEARCH_SETS.names()
    part, whole = (xl_col_to_name(names.index(n)) for n in ("set_km", "mains_km"))
    for row, said in enumerate(sets.to_dict("records"), 1):
        if said["mains_km"] and abs(said["set_km"] / said["mains_km"] - said["set_share"]) < 1e-6:
            formula = f"={part}{row + 1}/{whole}{row + 1}"
            shown = style.number(outputs.SEARCH_SETS["set_share"])
            page.write_formula(row, names.index("set_share"), formula, shown, said["set_share"])


def _assumptions(page: Any, report: DistrictReport, defaults: pd.DataFrame, style: Style) -> None:
    location = report.location
    parts = (report.balance.basis, report.events.basis, location.basis, location.ahead)
    limits = (*(line for p in parts for line in p.limits), *every(report.balance))
    taken = defaults[["table", "column", "value", "rows_count"]]
    rows = [
        ("District", report.name),
        ("Period", period(parts[0].first, parts[0].last)),
        ("Time zone", report.timezone),
        ("Meters", ", ".join(dict.fromkeys(m for p in parts for m in p.meters)) or EMPTY),
        *(("Assumption", line) for line in dict.fromkeys(a for p in parts for a in p.assumptions)),
        *(("Limits the figures", line) for line in dict.fromkeys(limits)),
        *(
            ("Default", f"{table}, {column}: {value} in {plural(int(count), 'row')}")
            for table, column, value, count in taken.itertuples(index=False, name=None)
        ),
        *((f"Meaning: {term}", meaning) for term, meaning in MEANINGS),
        ("Caution", CAUTION),
    ]
    said_sheet(page, rows, style)
