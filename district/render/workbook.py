"""The workbook: every table on its sheet, headings from the schema, sums as live formulas."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from datetime import date, datetime, time
from errno import EIO
from pathlib import Path
from typing import Any

import pandas as pd
import xlsxwriter
from xlsxwriter.exceptions import FileCreateError
from xlsxwriter.utility import xl_col_to_name

from district.files import whole_file
from district.render import audit_sheet
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
from district.schema.columns import Column, Table
from district.units import label_of, suffix_of
from district.words import CAUTION, EMPTY, missing, period, plural

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
_FORMATS = {
    "share": "0.0%", "count": "0", "year": "0", "m3": "#,##0", "m3_d": "#,##0.0", "m": "0.0",
    "km": "0.000", "mm": "0", "currency": "#,##0", "per_year": "0.0000",
    "l_connection_d": "#,##0", "index": "0.00", "h_d": "0.0",
    "m3_year": "#,##0", "currency_year": "#,##0", "months": "0.0", "percent": "0", "d": "0",
    "m3_d_year": "#,##0", "l_s": "0.000", "l_s_d": "0.0000",
}  # fmt: skip
_FINER = {
    "before_m": "0.000", "after_m": "0.000",
    "leaked_m3": "#,##0.00", "leaked_with_m3": "#,##0.00",
    "false_trips_per_year": "0.00", "smallest_l_s": "0.0000", "constant_l_s": "0.0000",
}  # fmt: skip
"""Figures known to more, or less, than their unit's usual place: what a fitted model misses by, the
flows and volumes of one building, counts by year."""
_OF_BUILDINGS = (event_tables.EVENTS.name, event_tables.BUILDING_CHECKS.name)
_SMALL = {"volume_m3": "#,##0.0"}
"""Figures of tables that hold buildings beside zones."""
_SUMMED = (
    "mains_km", "connections_count", "properties_count", "inflow_m3_d", "leakage_l_s",
    "background_l_s", "excess_l_s", "leakage_m3_d",
)  # fmt: skip
# Text stays text: a name from a map must never run as a formula or open a page.
_OPTIONS = {"strings_to_formulas": False, "strings_to_urls": False, "strings_to_numbers": False}


def write_workbook(report: DistrictReport, path: Path) -> Path:
    """Write the workbook to `path`, whole or not at all; the same bytes from the same report.

    Raises `OutputError` where it cannot be written.
    """
    frames = {table.name: (table, frame) for table, frame in result_tables(report)}
    made = datetime.combine(report.balance.basis.last or date(2000, 1, 1), time())
    with whole_file(path) as draft, _opened(draft) as book:
        book.set_properties({"title": report.name, "created": made})
        style = _Style(book, report.currency)
        for name, sheet in SHEETS.items():
            table, frame = frames[name]
            page = book.add_worksheet(sheet)
            _fill(page, table, frame, style)
            if table is outputs.ANNUAL:
                _live_balance(page, frame, style)
            elif table is outputs.ZONES and len(frame) > 1:
                _live_sums(page, frame, style)
            elif table is outputs.SEARCH_SETS:
                _live_shares(page, frame, style)
        audit_sheet.write_audit(book, book.add_worksheet(audit_sheet.NAME), report.balance.audit)
        _assumptions(book.add_worksheet("assumptions"), report, frames[DEFAULTS.name][1], style)
    return path


@contextmanager
def _opened(draft: Path) -> Iterator[Any]:
    try:
        with xlsxwriter.Workbook(str(draft), _OPTIONS) as book:
            yield book
    except FileCreateError as reason:
        raise OSError(EIO, f"the disk is full or failed half-way: {reason}") from reason


class _Style:
    """Formats of one workbook: xlsxwriter makes them per book."""

    def __init__(self, book: Any, currency: str) -> None:
        self.currency = currency
        self.head = book.add_format(
            {"bold": True, "text_wrap": True, "valign": "top", "bg_color": "#E9EBE8", "bottom": 1}
        )
        self.bold = book.add_format({"bold": True})
        self.wrap = book.add_format({"text_wrap": True, "valign": "top"})
        self.plain = book.add_format({"valign": "top"})
        self._book, self._numbers = book, {}  # type: Any, dict[str, Any]

    def number(self, column: Column, table: Table | None = None) -> Any:
        """Number format of a column, by its unit and, where small things are told, its table."""
        text = {"date": "yyyy-mm-dd", "time": "yyyy-mm-dd hh:mm"}.get(column.kind)
        if text is None:
            usual = "0" if column.kind == "whole" else _FORMATS.get(suffix_of(column.name), "0.00")
            figure = column.name.removesuffix("_low").removesuffix("_high")
            finer = _SMALL if table is not None and table.name in _OF_BUILDINGS else {}
            text = finer.get(figure) or _FINER.get(figure, usual)
        if text not in self._numbers:
            self._numbers[text] = self._book.add_format({"num_format": text, "valign": "top"})
        return self._numbers[text]


def heading(column: Column, currency: str = "") -> str:
    """Heading of a column: what it means, and its unit.

    >>> heading(Column("excess_l_s", "real", "leakage above the background"))
    'Leakage above the background, L/s'
    """
    suffix, unit = suffix_of(column.name), label_of(column.name)
    if suffix and suffix.startswith("currency"):
        unit = f"{currency} {unit}".strip()
    unit = "" if suffix == "share" else unit
    return column.meaning[:1].upper() + column.meaning[1:] + (f", {unit}" if unit else "")


def _fill(page: Any, table: Table, frame: pd.DataFrame, style: _Style) -> None:
    page.freeze_panes(1, len(table.key) or 1)
    page.set_row(0, 62)
    for number, column in enumerate(table.columns):
        page.set_column(number, number, _width(column, frame))
        page.write_string(0, number, heading(column, style.currency), style.head)
        for row, value in enumerate(frame[column.name], 1):
            _cell(page, row, number, column, value, style.number(column, table), style)
    page.autofilter(0, 0, max(len(frame), 1), len(table.columns) - 1)


def _cell(
    page: Any, row: int, number: int, column: Column, value: Any, shown: Any, style: _Style
) -> None:
    if missing(value):
        return
    if column.kind in ("real", "whole"):
        page.write_number(row, number, float(value), shown)
    elif column.kind in ("date", "time"):
        page.write_datetime(
            row, number, pd.Timestamp(value).tz_localize(None).to_pydatetime(), shown
        )
    elif column.kind == "flag":
        page.write_string(row, number, "yes" if value else "no", style.plain)
    else:
        page.write_string(row, number, str(value), style.wrap)


def _width(column: Column, frame: pd.DataFrame) -> float:
    if column.kind != "text":
        return 13.0
    longest = max((len(str(v)) for v in frame[column.name] if not missing(v)), default=8)
    return float(min(max(longest + 2, 12), 60))


def _live_balance(page: Any, annual: pd.DataFrame, style: _Style) -> None:
    number = outputs.ANNUAL.names().index("volume_m3")
    letter = xl_col_to_name(number)
    shown = style.number(outputs.ANNUAL["volume_m3"])
    for row, (plus, minus) in balance_terms(annual).items():
        sums = "+".join(f"{letter}{r + 2}" for r in plus)
        takes = "".join(f"-{letter}{r + 2}" for r in minus)
        page.write_formula(
            row + 1, number, f"={sums}{takes}", shown, float(annual["volume_m3"].iloc[row])
        )


def _live_sums(page: Any, zones: pd.DataFrame, style: _Style) -> None:
    names, row = outputs.ZONES.names(), len(zones) + 2
    label = "All zones (limits added up, which is cautious)"
    page.write_string(row, names.index("name"), label, style.bold)
    summed = [n for n in names if n.removesuffix("_low").removesuffix("_high") in _SUMMED]
    for name in summed:
        letter = xl_col_to_name(names.index(name))
        page.write_formula(
            row,
            names.index(name),
            f"=SUM({letter}2:{letter}{len(zones) + 1})",
            style.number(outputs.ZONES[name]),
            float(zones[name].sum()),
        )


def _live_shares(page: Any, sets: pd.DataFrame, style: _Style) -> None:
    names = outputs.SEARCH_SETS.names()
    part, whole = (xl_col_to_name(names.index(n)) for n in ("set_km", "mains_km"))
    for row, said in enumerate(sets.to_dict("records"), 1):
        if said["mains_km"] and abs(said["set_km"] / said["mains_km"] - said["set_share"]) < 1e-6:
            formula = f"={part}{row + 1}/{whole}{row + 1}"
            shown = style.number(outputs.SEARCH_SETS["set_share"])
            page.write_formula(row, names.index("set_share"), formula, shown, said["set_share"])


def _assumptions(page: Any, report: DistrictReport, defaults: pd.DataFrame, style: _Style) -> None:
    page.set_column(0, 0, 28)
    page.set_column(1, 1, 110)
    page.freeze_panes(1, 0)
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
    page.write_row(0, 0, ["What", "Said"], style.head)
    for number, (what, said) in enumerate(rows, 1):
        page.write_string(number, 0, what, style.plain)
        page.write_string(number, 1, said, style.wrap)
