"""Columns of numbers and years as people fill them in, brought to our units."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import numpy as np
import pandas as pd

from district.errors import Finding
from district.intake.amounts import Amounts, own_unit_factor, quantity_of, read_amounts
from district.intake.choice_words import says_nothing
from district.intake.tabular import numbers
from district.intake.years import read_years, year_findings
from district.schema.columns import Column, Table
from district.units import label_of, suffix_of
from district.words import missing, plural

NOTHING = (0.0, -99.0, -999.0, -9999.0, 999.0, 9999.0, 99999.0)
"""Out of bounds, these stand for 'not known' in many systems (common practice, no source)."""
YEARS = ("installed_year", "removed_year")


def our_numbers(
    frame: pd.DataFrame, table: Table, units: Mapping[str, str], *, source: str
) -> tuple[pd.DataFrame, list[Finding]]:
    """The frame with numbers and years in our units, and notes of what was made of odd ones.

    A value is in the unit it names itself, else in the user's `units` (column = unit), else in
    ours. Decimal commas and grouping are understood. In columns that need not be filled in, what
    stands for 'not known' (0 or -9999 out of bounds, 'n/a') is emptied. What is no number stays
    as written, for the check to name.
    """
    frame, notes = frame.copy(), []
    for column in table.columns:
        name = column.name
        if column.kind not in ("real", "whole") or name not in frame.columns:
            continue
        if name in YEARS:
            years = read_years(frame[name])
            notes += year_findings(frame[name], years, source=source, column=name)
            frame[name] = years.values
        else:
            frame[name], told = _numbers(frame[name], column, units.get(name, ""), source)
            notes += told
    return frame, notes


def _numbers(
    said: pd.Series[Any], column: Column, unit: str, source: str
) -> tuple[pd.Series[Any], list[Finding]]:
    name, notes = column.name, []
    scale = own_unit_factor(unit, name) if unit else 1.0
    plain = numbers(said)
    values = plain * scale
    odd = np.isnan(plain) & ~said.map(missing).to_numpy(dtype=bool)
    texts = said[odd]
    if len(texts):
        read = read_amounts(texts, name)
        factors = {u: own_unit_factor(u, name) if u else scale for u in set(read.units)}
        own = np.array([factors[u] for u in read.units])
        values[odd] = read.values * own
        notes += _told(texts, read, column, unit, source, alone=len(texts) == said.notna().sum())
    nothing = np.zeros(len(said), dtype=bool)
    if not column.required:
        # Judged as it was written: -9999 in feet is as little a length.
        nothing = np.isin(plain, NOTHING) & ~_within(values, column)
        if nothing.any():
            notes.append(_nothing(column, plain[nothing], source))
        nothing |= odd & np.isnan(values) & said.map(_says_nothing).to_numpy(dtype=bool)
        values[nothing] = np.nan
    if pd.api.types.is_numeric_dtype(said.dtype) and not pd.api.types.is_bool_dtype(said.dtype):
        # What is beyond any number we take is left to the check, which will show it.
        beyond = np.isnan(values) & said.notna().to_numpy() & ~nothing
        return pd.Series(values, index=said.index).mask(beyond, said), notes
    result = pd.Series(values, index=said.index, dtype=object)
    return result.where(~np.isnan(values) | nothing, said.astype(object)), notes


def _within(values: np.ndarray[Any, Any], column: Column) -> np.ndarray[Any, Any]:
    low = -np.inf if column.low is None else column.low
    high = np.inf if column.high is None else column.high
    return np.asarray((values >= low) & (values <= high))


def _says_nothing(value: Any) -> bool:
    return isinstance(value, str) and says_nothing(value)


def _nothing(column: Column, written: np.ndarray[Any, Any], source: str) -> Finding:
    which = ", ".join(f"{value:g}" for value in np.unique(written))
    return Finding(
        "note",
        source,
        column=column.name,
        got=f"{which} in {plural(len(written), 'row')}, taken as not known",
        expected=column.expectation(),
        remedy="Give the value where it is known",
    )


def _told(
    texts: pd.Series[Any], read: Amounts, column: Column, unit: str, source: str, *, alone: bool
) -> list[Finding]:
    """One note on outside diameters with walls, one on units that differ within the column."""
    notes = []
    if read.walled.any():
        notes.append(
            Finding(
                "note",
                source,
                column=column.name,
                got=f"{plural(int(read.walled.sum()), 'value')} such as "
                f'"{texts[read.walled].iloc[0]}", read as outside diameter and wall',
                expected=column.meaning,
                remedy="The outside diameter less twice the wall is used; correct those that "
                "mean something else",
            )
        )
    known = [u for u in read.units[~np.isnan(read.values)].tolist() if u]
    usual = unit or _our_unit(column.name)
    apart = {u: known.count(u) for u in sorted(set(known))}
    if set(apart) - {usual} and (len(apart) > 1 or not alone or "" in set(read.units)):
        each = "; ".join(
            f'{u}: {count}, such as "{texts[read.units == u].iloc[0]}"'
            for u, count in apart.items()
        )
        notes.append(
            Finding(
                "note",
                source,
                column=column.name,
                got=f"values in units of their own ({each})",
                expected=f"{usual} throughout",
                remedy="Each is read in the unit it names; check those that name none",
            )
        )
    return notes


def _our_unit(name: str) -> str:
    return {"volume": "l", "rate": "l/s", "share": "%"}.get(
        quantity_of(name), suffix_of(name) or label_of(name)
    )
