"""Long tables to arrays, days down and places across, and back."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

import numpy as np
import numpy.typing as npt
import pandas as pd

from district.estimates import Array, Estimate

_DAY_US = 86_400_000_000
ENDS = ("", "_low", "_high")
"""What the columns of an estimate end in."""


def text(values: pd.Series[Any]) -> pd.Series[Any]:
    """Ids as text, '' where empty."""
    return values.astype(object).where(values.notna(), "").astype(str)


def among(ids: pd.Series[Any], known: pd.Index[Any]) -> npt.NDArray[np.intp]:
    """Position of each id in `known`, -1 where it is not there.

    Long tables repeat few ids: each is looked up once.
    """
    if isinstance(ids.dtype, pd.CategoricalDtype):
        codes, unique = ids.cat.codes.to_numpy(), ids.cat.categories
    else:
        codes, unique = pd.factorize(ids)
    at = known.get_indexer(text(pd.Series(unique)))
    # The last place is for ids that are missing, whose code is -1.
    return np.asarray(np.append(at, -1).take(codes, mode="wrap"), dtype=np.intp)


def rows_of(
    ids: pd.Series[Any], known: pd.Index[Any]
) -> tuple[npt.NDArray[np.intp], npt.NDArray[np.intp]]:
    """The rows whose id is in `known`, in their order, and the position of each one's id there.

    Long tables stand device by device: of one that does, no row of another device is looked at.
    """
    if isinstance(ids.dtype, pd.CategoricalDtype):
        codes, names = ids.cat.codes.to_numpy(), ids.cat.categories
        if (codes[1:] >= codes[:-1]).all():
            at = known.get_indexer(text(pd.Series(names)))
            # Numbers of the codes' own kind: else all of these are copied into another first.
            bounds = np.searchsorted(codes, np.arange(len(names) + 1, dtype=codes.dtype))
            wanted = np.flatnonzero(at >= 0)
            first, counts = bounds[wanted], np.diff(bounds)[wanted]
            shift = np.repeat(first - (np.cumsum(counts) - counts), counts)
            return np.arange(len(shift)) + shift, np.repeat(at[wanted], counts)
    across = among(ids, known)
    rows = np.flatnonzero(across >= 0)
    return rows, across[rows]


def ids_in(ids: pd.Series[Any]) -> pd.Index[Any]:
    """The ids that a column of a long table holds, as text, each once."""
    if isinstance(ids.dtype, pd.CategoricalDtype):
        held = np.bincount(ids.cat.codes.to_numpy() + 1, minlength=len(ids.cat.categories) + 1)
        unique = pd.Series(ids.cat.categories[held[1:] > 0])
    else:
        unique = pd.Series(ids.unique())
    return pd.Index(text(unique), dtype=object)


def days_of(values: Any) -> pd.DatetimeIndex:
    """Dates as midnights of one resolution, so that indices of any origin match."""
    return pd.DatetimeIndex(pd.to_datetime(np.asarray(values))).as_unit("us").normalize()


def span(values: Any) -> pd.DatetimeIndex:
    """Every day from the first to the last of `values`; empty if there are none."""
    days = days_of(values).dropna()
    if not len(days):
        return pd.DatetimeIndex([], dtype="datetime64[us]")
    return pd.date_range(days.min(), days.max(), freq="D").as_unit("us")


def grid(
    frame: pd.DataFrame, *, row: str, value: str, rows: pd.DatetimeIndex, columns: pd.Index[Any]
) -> Array:
    """`frame[value]` as rows x columns, by date column `row` and device_id; NaN if absent."""
    return grids(frame, row=row, values=[value], rows=rows, columns=columns)[0]


def grids(
    frame: pd.DataFrame,
    *,
    row: str,
    values: Sequence[str],
    rows: pd.DatetimeIndex,
    columns: pd.Index[Any],
) -> list[Array]:
    """Each of `values` as `grid` lays it out; the places of a long table are sought once."""
    wanted, across = rows_of(frame["device_id"], columns)
    dates, laid = frame[row], [frame[value].to_numpy(dtype=float) for value in values]
    if len(wanted) < len(frame):
        at = _on_end(wanted)
        dates, laid = dates.iloc[at], [v[at] for v in laid]
    down = positions(dates, rows)
    known = down >= 0
    if not known.all():
        down, across, laid = down[known], across[known], [v[known] for v in laid]
    found = []
    for given in laid:
        # Long tables go device by device: so they are written on end.
        filled = np.full((len(columns), len(rows)), np.nan)
        filled[across, down] = given
        found.append(np.ascontiguousarray(filled.T))
    return found


def _on_end(rows: npt.NDArray[np.intp]) -> npt.NDArray[np.intp] | slice:
    """Rows that follow one another as a slice, of which nothing is copied."""
    if len(rows) and rows[-1] - rows[0] == len(rows) - 1:
        return slice(int(rows[0]), int(rows[-1]) + 1)
    return rows


def positions(dates: pd.Series[Any], rows: pd.DatetimeIndex) -> npt.NDArray[np.int64]:
    """Position of each date among `rows`, -1 where it is not there."""
    first = rows.as_unit("us").asi8
    plain = isinstance(dates.dtype, np.dtype) and dates.dtype.kind == "M"
    if not plain or not len(rows) or (np.diff(first) != _DAY_US).any():
        return np.asarray(rows.get_indexer(days_of(dates)), dtype=np.int64)
    # Day by day, as nearly always: reckoned, not looked up.
    since = dates.to_numpy().astype("datetime64[us]").view(np.int64) - first[0]
    at = np.floor_divide(since, _DAY_US, out=since)
    if not len(at) or (at.min() >= 0 and at.max() < len(rows)):
        return np.asarray(at)  # Of a table of years nothing more is made.
    return np.where((at >= 0) & (at < len(rows)), at, -1)


def median_filled(values: Array) -> Array:
    """Rows x columns; what is not known takes its column's median, NaN where none is known."""
    empty = np.isnan(values)
    # Not pandas' fillna: that goes column by column, and users are many.
    return np.where(empty, column_medians(values), values) if empty.any() else values


def column_medians(values: Array) -> Array:
    """Median of what is known in each column, NaN where nothing is.

    The same figures as pandas' median, which goes column by column.
    """
    told = values[~np.isnan(values).all(axis=1)]
    if not len(told):
        return np.full(values.shape[1], np.nan)
    across = np.sort(told.T, axis=1)  # What is not known comes last.
    count = (~np.isnan(across)).sum(axis=1)
    each, last = np.arange(len(across)), np.maximum(count - 1, 0)
    # Of an odd number both are the same; where nothing is known, the first is not known either.
    return np.asarray((across[each, last // 2] + across[each, (last + 1) // 2]) / 2)


def long(
    cells: pd.Index[Any],
    days: pd.DatetimeIndex,
    *,
    day: str,
    columns: dict[str, Any],
) -> pd.DataFrame:
    """A table with a row a cell and day, cell by cell, from arrays of days x cells."""
    table: dict[str, Any] = {
        "cell_id": np.repeat(np.asarray(cells, dtype=object), len(days)),
        day: np.tile(days.to_numpy(), len(cells)),
    }
    shape = (len(days), len(cells))
    for name, values in columns.items():
        parts = in_columns({name: values}) if isinstance(values, Estimate) else {name: values}
        table |= {key: np.broadcast_to(part, shape).T.ravel() for key, part in parts.items()}
    return pd.DataFrame(table)


def wide(frame: pd.DataFrame, name: str, cells: pd.Index[Any]) -> Array:
    """Column `name` of a table made by `long`, as days x cells."""
    return np.asarray(frame[name].to_numpy().reshape(len(cells), -1).T)


def wide_estimate(frame: pd.DataFrame, name: str, cells: pd.Index[Any]) -> Estimate:
    """Columns name, name_low, name_high of a table made by `long`, as days x cells."""
    return Estimate(*(wide(frame, name + end, cells) for end in ENDS))


def estimate_in(frame: pd.DataFrame, name: str) -> Estimate:
    """Columns name, name_low, name_high of any table, over its rows."""
    return Estimate(*(frame[name + end].to_numpy(dtype=float) for end in ENDS))


def in_columns(figures: Mapping[str, Estimate]) -> dict[str, Array]:
    """The three columns of each figure, by name, ready to be put into a table."""
    return {
        name + end: part
        for name, figure in figures.items()
        for end, part in zip(ENDS, figure, strict=True)
    }
