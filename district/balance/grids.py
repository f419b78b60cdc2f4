"""Long tables to arrays, days down and places across, and back."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import numpy as np
import numpy.typing as npt
import pandas as pd

from district.balance.limits import Array, Estimate

ENDS = ("", "_low", "_high")
"""What the columns of an estimate end in."""


def text(values: pd.Series[Any]) -> pd.Series[Any]:
    """Ids as text, '' where empty."""
    return values.astype(object).where(values.notna(), "").astype(str)


def among(ids: pd.Series[Any], known: pd.Index[Any]) -> npt.NDArray[np.intp]:
    """Position of each id in `known`, -1 where it is not there.

    Long tables repeat few ids: each is looked up once.
    """
    codes, unique = pd.factorize(ids)
    at = known.get_indexer(text(pd.Series(unique)))
    return np.where(codes >= 0, np.append(at, -1)[codes], -1)


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
    down = rows.get_indexer(days_of(frame[row]))
    across = among(frame["device_id"], columns)
    known = (down >= 0) & (across >= 0)
    filled = np.full((len(rows), len(columns)), np.nan)
    filled[down[known], across[known]] = frame[value].to_numpy(dtype=float)[known]
    return filled


def median_filled(values: Array) -> Array:
    """Rows x columns; what is not known takes its column's median, NaN where none is known."""
    # Not pandas' fillna: that goes column by column, and users are many.
    return np.where(np.isnan(values), pd.DataFrame(values).median().to_numpy(dtype=float), values)


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
