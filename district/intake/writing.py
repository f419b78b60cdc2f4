"""How a long file writes its numbers and dates, decided once for all of its parts."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field, replace
from pathlib import Path

import numpy as np
import pandas as pd

from district.intake.clock import layout_counts, layout_of
from district.intake.table_shape import Shape
from district.intake.tabular import (
    CHUNK_ROWS,
    denies_points,
    part_rows,
    read_parts,
    read_shape,
    shows_points,
    shows_thousands,
)

_PEEK_ROWS = 2000


@dataclass(frozen=True)
class Writing:
    """What the parts of a file must agree on, by column; nothing where each part may decide."""

    thousands: Mapping[str, bool] = field(default_factory=dict)
    """Whether the column's commas group digits, as `numbers` takes it."""
    layouts: Mapping[str, int] = field(default_factory=dict)
    """Layout of the column's dates, as `read_times` takes it."""
    points: Mapping[str, bool] = field(default_factory=dict)
    """Whether the column's points group digits."""


ALONE = Writing()
"""A file of one part: it decides for itself."""


def how_written(path: Path, shape: Shape, *, rows: int = CHUNK_ROWS) -> Writing:
    """What the parts must agree on that `read_parts` gives of the table.

    A file of more than one part whose first rows show commas in numbers, or dates not in
    ISO 8601, is gone through once for it. Raises as `read_table`.
    """
    if path.suffix.lower() == ".xlsx" or _fits(path, shape, part_rows(shape, rows)):
        return ALONE
    first = read_shape(path, shape, limit=_PEEK_ROWS)
    texts = [c for c in first.columns if not pd.api.types.is_numeric_dtype(first[c].dtype)]
    dates = [c for c in texts if layout_counts(first[c]).any()]
    commas = [c for c in texts if first[c].astype(str).str.contains(r"\d,\d").any()]
    pointed = [c for c in texts if first[c].astype(str).str.contains(r"\d\.\d{3}(?!\d)").any()]
    points = [c for c in pointed if shows_points(first[c])]
    others = dict.fromkeys(set(pointed) - set(points), False)
    if not (dates or commas or points):
        return Writing(points=others)
    found = written(read_parts(path, shape, rows=rows), dates, commas, points)
    return replace(found, points={**found.points, **others})


def _fits(path: Path, shape: Shape, rows: int) -> bool:
    """Whether a text file is surely of one part; the size of a Parquet file does not tell."""
    if path.suffix.lower() == ".parquet":
        return False
    # The shortest row has no more than a sign after each column.
    return path.stat().st_size < shape.width * rows


def written(
    parts: Iterable[pd.DataFrame], dates: list[str], commas: list[str], points: list[str]
) -> Writing:
    """What all `parts` together show of the columns that hold dates, and commas in numbers.

    `points` are columns whose first points seem to group digits; one part can deny it.
    """
    grouping = dict.fromkeys(points, True)
    thousands = dict.fromkeys(commas, False)
    counts = {c: np.zeros_like(layout_counts(pd.Series([], dtype=object))) for c in dates}
    for part in parts:
        for column in commas:
            thousands[column] |= shows_thousands(part[column])
        for column in points:
            grouping[column] &= not denies_points(part[column])
        for column in dates:
            counts[column] += layout_counts(part[column])
    return Writing(thousands, {c: layout_of(n) for c, n in counts.items()}, grouping)
