"""A workbook of tables: a sheet a table, headings from the schema, formats of figures by unit."""

from __future__ import annotations

from collections.abc import Container, Iterable, Iterator
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
from district.schema import event_tables
from district.schema.columns import Column, Table
from district.units import label_of, suffix_of
from district.words import missing

_FORMATS = {
    "share": "0.0%", "count": "0", "year": "0", "m3": "#,##0", "m3_d": "#,##0.0", "m": "0.0",
    "km": "0.000", "mm": "0", "currency": "#,##0", "per_year": "0.0000",
    "l_connection_d": "#,##0", "index": "0.00", "h_d": "0.0",
    "m3_year": "#,##0", "currency_year": "#,##0", "months": "0.0", "percent": "0", "d": "0",
    "m3_d_year": "#,##0", "l_s": "0.000", "l_s_d": "0.0000", "per_100_km_year": "0.0",
}  # fmt: skip
_FINER = {
    "before_m": "0.000", "after_m": "0.000",
    "leaked_m3": "#,##0.00", "leaked_with_m3": "#,##0.00",
    "false_trips_per_year": "0.00", "smallest_l_s": "0.0000", "constant_l_s": "0.0000",
    "expected_count": "0.0", "breaks_count": "0.0",
}  # fmt: skip
"""Figures known to more, or less, than their unit's usual place: what a fitted model misses by, the
flows and volumes of one building, counts by year, counts that are expected."""
_OF_BUILDINGS = (event_tables.EVENTS.name, event_tables.BUILDING_CHECKS.name)
_SMALL = {"volume_m3": "#,##0.0"}
"""Figures of tables that hold buildings beside zones."""
# Text stays text: a name from a map must never run as a formula or open a page.
_OPTIONS = {"strings_to_formulas": False, "strings_to_urls": False, "strings_to_numbers": False}


@contextmanager
def whole_book(path: Path, *, title: str, last: date | None) -> Iterator[Any]:
    """Yield a workbook that takes its place at `path` once it is whole, else nothing does.

    It is dated by `last`, the last day of its data: the same bytes from the same tables. Raises
    `OutputError`.
    """
    made = datetime.combine(last or date(2000, 1, 1), time())
    with whole_file(path) as draft:
        try:
            with xlsxwriter.Workbook(str(draft), _OPTIONS) as book:
                book.set_properties({"title": title, "created": made})
                yield book
        except FileCreateError as reason:
            raise OSError(EIO, f"the disk is full or failed half-way: {reason}") from reason


class Style:
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
            figure = column.name.removesuffix("_low").removesuffix("_high")
            finer = _SMALL if table is not None and table.name in _OF_BUILDINGS else {}
            usual = _FINER.get(figure) or _FORMATS.get(suffix_of(column.name), "0.00")
            text = "0" if column.kind == "whole" else finer.get(figure, usual)
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


def fill_sheet(page: Any, table: Table, frame: pd.DataFrame, style: Style) -> None:
    """Fill a sheet with the rows of a table, its headings above."""
    page.freeze_panes(1, len(table.key) or 1)
    page.set_row(0, 62)
    for number, column in enumerate(table.columns):
        page.set_column(number, number, _width(column, frame))
        page.write_string(0, number, heading(column, style.currency), style.head)
        shown = style.number(column, table)
        for row, value in enumerate(frame[column.name], 1):
            _cell(page, row, number, column, value, shown, style)
    page.autofilter(0, 0, max(len(frame), 1), len(table.columns) - 1)


def live_sums(
    page: Any,
    table: Table,
    frame: pd.DataFrame,
    style: Style,
    *,
    beside: str,
    summed: Container[str],
    noun: str = "zones",
) -> None:
    """Add the sums of the columns `summed`, and of their limits, beneath the rows; what they are
    stands in the column `beside`."""
    names, row = table.names(), len(frame) + 2
    label = f"All {noun} (limits added up, which is cautious)"
    page.write_string(row, names.index(beside), label, style.bold)
    for name in names:
        if name.removesuffix("_low").removesuffix("_high") in summed:
            letter = xl_col_to_name(names.index(name))
            page.write_formula(
                row,
                names.index(name),
                f"=SUM({letter}2:{letter}{len(frame) + 1})",
                style.number(table[name]),
                float(frame[name].sum()),
            )


def said_sheet(page: Any, rows: Iterable[tuple[str, str]], style: Style) -> None:
    """Fill a sheet with what is said, each with what it is about."""
    page.set_column(0, 0, 28)
    page.set_column(1, 1, 110)
    page.freeze_panes(1, 0)
    page.write_row(0, 0, ["What", "Said"], style.head)
    for number, (what, said) in enumerate(rows, 1):
        page.write_string(number, 0, what, style.plain)
        page.write_string(number, 1, said, style.wrap)


def _cell(
    page: Any, row: int, number: int, column: Column, value: Any, shown: Any, style: Style
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
