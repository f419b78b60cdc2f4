"""The tables of a file, and where in it each stands: one of a CSV, one a sheet of a workbook."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

import pandas as pd
import pyarrow.parquet as pq

from district.intake.csv_text import SEPARATORS, cells, encoding_of, first_lines, separator_of
from district.intake.table_shape import LOOKED_AT, Shape, find_shape
from district.intake.unreadable import NoSheetError, as_unreadable


@dataclass(frozen=True)
class Tables:
    """What was found in a file."""

    shapes: tuple[Shape, ...]
    """At least one."""
    passed: tuple[str, ...] = ()
    """Sheets that hold something, but no table of use."""


def tables_in(path: Path, *, sheet: str = "", whole: bool = True, timed: bool = True) -> Tables:
    """Where the tables of a file stand, by its first rows.

    Of a workbook all sheets are looked at but hidden and empty ones; with `sheet` only that, and
    hidden or not. With `timed` sheets without times are passed over where others have some. A
    Parquet file has the plain shape. With `whole` false only the file's beginning tells the
    encoding. Raises `UnreadableError` for a broken or foreign file.
    """
    with as_unreadable(path):
        match path.suffix.lower():
            case ".parquet":
                return Tables((Shape(width=len(pq.read_schema(path)), found=True),))
            case ".xlsx":
                return _of_sheets(path, sheet, timed)
            case _:
                encoding = encoding_of(path, whole=whole)
                shape = _of_lines(first_lines(path, encoding, LOOKED_AT))
                return Tables((replace(shape, encoding=encoding),))


def _of_lines(lines: list[str]) -> Shape:
    """The shape by the separator that splits the first line most, or the one that fits better."""
    usual = separator_of(next(line for line in lines if line.strip()))
    by_first = replace(find_shape(cells(lines, usual)), separator=usual)
    if by_first.found and not by_first.above:
        return by_first
    fitting: list[tuple[int, Shape]] = []
    for separator in SEPARATORS:
        rows = cells(lines, separator)
        shape = replace(find_shape(rows), separator=separator)
        # A decimal comma parts values too, but no separator stands in the heading then.
        heading = separator.join(str(c) for c in _row(rows, shape.heading_row))
        if shape.found and separator_of(heading) == separator and separator in heading:
            fitting.append((len(_row(rows, shape.heading_row)), shape))
    return max(fitting, key=lambda f: f[0])[1] if fitting else by_first


def _row(rows: Sequence[Sequence[Any]], number: int) -> list[Any]:
    return [c for c in rows[number - 1] if c is not None] if number <= len(rows) else []


def _of_sheets(path: Path, sheet: str, timed: bool) -> Tables:
    with pd.ExcelFile(path, engine="openpyxl") as file:
        sheets = list(file.book.worksheets)
        names = [s.title for s in sheets]
        if sheet and sheet not in names:
            raise NoSheetError(f'no sheet "{sheet}" (the file has {", ".join(names)})')
        shown = [s for s in sheets if s.title == sheet or (not sheet and _is_shown(s))]
        shapes = {s.title: _of_sheet(s) for s in shown}
    filled = {name: shape for name, shape in shapes.items() if shape is not None}
    tables = {n: s for n, s in filled.items() if s.found}
    of_use = {n: s for n, s in tables.items() if s.times or not timed} or tables
    if not of_use:
        # No sheet is better than the others: the first that holds something, as it stands.
        name = next(iter(filled), names[0])
        of_use = {name: filled.get(name, Shape())}
    several = len(names) > 1
    named = tuple(replace(s, sheet=n, several=several) for n, s in of_use.items())
    return Tables(named, tuple(n for n in filled if n not in of_use))


def _is_shown(sheet: Any) -> bool:
    return bool(sheet.sheet_state == "visible")


def _of_sheet(sheet: Any) -> Shape | None:
    rows = [list(row) for row in sheet.iter_rows(max_row=LOOKED_AT, values_only=True)]
    return find_shape(rows) if any(c is not None for row in rows for c in row) else None
