"""Where in a sheet or text file its table stands: the heading, the units, the first values.

Loggers and people write titles, serial numbers and dates of export above a table, and units
below its heading. A file that begins with its heading has the plain shape.
"""

from __future__ import annotations

import datetime
import re
from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

import numpy as np

from district.intake.column_words import likeness
from district.intake.heading_units import is_units_row, split_unit, unit_of

LOOKED_AT = 60
"""Rows from the top in which a heading is looked for."""
_MODELS = 3
"""Rows at the end of those, whose kinds of cells are the table's."""
_NUMBER = re.compile(r"[+-]?(\d[\d\s'\u00a0\u202f.,]*|[.,]\d+)([eE][+-]?\d+)?")
_CLOCK = r"\d{1,2}:\d{2}(:\d{2}([.,]\d+)?)?\s*([aApP]\.?[mM]\.?|[zZ]|[+-]\d{2}:?\d{2})?"
_TIME = re.compile(rf"(\d{{1,4}}[./-]\d{{1,2}}[./-]\d{{1,4}})?[\sT]*({_CLOCK})?")
_COVER = 0.6
_NEAR = 0.55
_TIMES = (("readings", "time"), ("works", "start"), ("works", "end"), ("breaks", "date"))
Cells = Sequence[Any]


@dataclass(frozen=True)
class Shape:
    """Where a table stands; rows are numbered as a spreadsheet shows them."""

    heading_row: int = 1
    data_row: int = 2
    """The first row that may hold values."""
    units: Mapping[str, str] = field(default_factory=dict)
    """Heading -> the unit written beside or below it, where there is one we know."""
    above: tuple[str, ...] = ()
    """What stands above the heading, a text a row that is not blank."""
    times: bool = False
    """Whether some column holds dates or times."""
    found: bool = False
    """Whether values stand below the heading."""
    width: int = 1
    """How many columns it has, as far as is known."""
    encoding: str = ""
    separator: str = ""
    sheet: str = ""
    several: bool = False
    """Whether its file has more sheets, so that a finding must name this one."""

    def place(self, file: str) -> str:
        """The file, and of several sheets this one, as findings name it."""
        return f"{file}, sheet {self.sheet}" if self.several else file

    def plain(self) -> bool:
        """Whether the table begins with its heading in row 1 and values in row 2."""
        return (self.heading_row, self.data_row) == (1, 2)


PLAIN = Shape()


def find_shape(rows: Sequence[Cells]) -> Shape:
    """The shape of the table whose first rows these are; blank cells are None or NaN.

    The values' first row is told by its kinds of cells (times, numbers) being those of the last
    rows given; the heading is the last row of texts above it, of those that name the times if one
    does. Without such a row the first that is not blank is taken for the heading.
    """
    grid = [[kind_of(cell) for cell in row] for row in rows]
    said = [n for n, row in enumerate(grid) if any(row)]
    if not said:
        return Shape()
    model = _model(grid)
    first = next((n for n in said if _is_data(grid[n], model)), None)
    heading = _heading(rows, grid, said, first, model)
    below = [n for n in said if heading < n and (first is None or n < first)]
    data, units_row = heading + 1, -1
    if below and is_units_row(_texts(rows[below[0]])):
        units_row, data = below[0], below[0] + 1
    return Shape(
        heading + 1,
        data + 1,
        _units(rows[heading], rows[units_row] if units_row >= 0 else ()),
        tuple(" ".join(_texts(rows[n])) for n in said if n < heading),
        width=max(len(rows[heading]), 1),
        times="time" in model.values(),
        found=first is not None and first > heading,
    )


def _model(grid: list[list[str]]) -> dict[int, str]:
    """Column -> 'time' or 'number', by the last rows that hold more than one thing."""
    width = max(_filled(row) for row in grid)
    last = [row for row in grid if _filled(row) >= min(2, width)][-_MODELS:]
    model = {}
    for column in range(max(len(row) for row in last)):
        kinds = [row[column] for row in last if column < len(row)]
        counts = Counter(k for k in kinds if k not in ("", "text"))
        if counts:
            # Of two as common the lower one: it is farther from what stands above the table.
            most = max(counts.values())
            model[column] = next(k for k in reversed(kinds) if counts.get(k) == most)
    return model


def _is_data(row: list[str], model: Mapping[int, str]) -> bool:
    times = [c for c, kind in model.items() if kind == "time"]
    others = [c for c, kind in model.items() if kind == "number"]
    said = {c for c, kind in model.items() if c < len(row) and row[c] == kind}
    if not model or (len(model) > 1 and len(said) < 2):
        return False
    if times and not said.intersection(times):
        return False
    return bool(said.intersection(others)) or not others


def _heading(
    rows: Sequence[Cells],
    grid: list[list[str]],
    said: list[int],
    first: int | None,
    model: Mapping[int, str],
) -> int:
    above = [n for n in said if first is None or n < first]
    if not above:
        return said[0]
    width = _filled(grid[first]) if first is not None else max(_filled(grid[n]) for n in said)
    fit = [
        (_names_time(rows[n], model), n)
        for n in above
        if _filled(grid[n]) >= max(min(2, width), _COVER * width)
        and _are_names(rows[n], grid[n], model)
        and not is_units_row(_texts(rows[n]))
    ]
    if first is None:
        # Nothing tells values from headings: the first row wide enough is the heading.
        return fit[0][1] if fit else above[0]
    return max(fit)[1] if fit else above[0]


def _are_names(row: Cells, kinds: list[str], model: Mapping[int, str]) -> bool:
    if "time" in kinds:
        return False
    if "number" not in kinds:
        return True
    # Meters may be headed by a number, but then the column of times is named as such.
    whole = all(_is_whole(c) for c, kind in zip(row, kinds, strict=True) if kind == "number")
    return whole and _names_time(row, model)


def _names_time(row: Cells, model: Mapping[int, str]) -> bool:
    named = [str(row[c]) for c, k in model.items() if k == "time" and c < len(row)]
    return any(likeness(*known, split_unit(text)[0]) >= _NEAR for known in _TIMES for text in named)


def _units(heading: Cells, below: Cells) -> dict[str, str]:
    units: dict[str, str] = {}
    for column, cell in enumerate(heading):
        if kind_of(cell):
            name = str(cell).strip()
            under = unit_of(str(below[column])) if column < len(below) else ""
            unit = under or split_unit(name)[1]
            if unit:
                units.setdefault(name, unit)
    return units


def kind_of(cell: Any) -> str:
    """What a cell holds: 'number', 'time' (a date too), 'text', or '' where it is blank.

    >>> [kind_of(c) for c in ("1 234,5", "25.01.2025 13:00", "8:05", "M12", " ")]
    ['number', 'time', 'time', 'text', '']
    """
    if isinstance(cell, str):
        text = cell.strip()
        if not text:
            return ""
        if _NUMBER.fullmatch(text) and not re.fullmatch(r"\d{1,2}\.\d{1,2}\.\d{2,4}", text):
            return "number"
        return "time" if _TIME.fullmatch(text) else "text"
    if cell is None or cell is np.nan or cell != cell:
        return ""
    if isinstance(cell, (datetime.date, datetime.time, datetime.timedelta, np.datetime64)):
        return "time"
    return "number" if isinstance(cell, (int, float, np.number)) else "text"


def _is_whole(cell: Any) -> bool:
    return str(cell).strip().removesuffix(".0").isdigit()


def _filled(row: list[str]) -> int:
    return sum(map(bool, row))


def _texts(row: Cells) -> list[str]:
    return [str(cell).strip() for cell in row if kind_of(cell)]
