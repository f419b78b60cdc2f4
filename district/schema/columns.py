"""`Column` and `Table`, and the one check built from them with Pandera.

A check never stops at the first defect: it returns the table with every usable value in its
declared kind, and one finding for each value that is not.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Container, Iterable, Mapping
from dataclasses import dataclass
from functools import cache
from typing import Any, Literal

import geopandas as gpd
import numpy as np
import pandas as pd
import pandera.pandas as pa

from district.errors import Finding
from district.units import label_of
from district.words import closest, id_text

Kind = Literal["text", "real", "whole", "flag", "date", "time", "geometry"]
Shape = Literal["Point", "LineString", "Polygon"]

_WORDS: dict[Kind, str] = {
    "text": "text",
    "real": "a number",
    "whole": "a whole number",
    "flag": "true or false",
    "date": "a date as YYYY-MM-DD",
    "time": "a time",
    "geometry": "a geometry",
}
_EITHER_WAY = re.compile(r"\s*(0?[1-9]|1[0-2])[./-](0?[1-9]|1[0-2])[./-]\d{2,4}\b")
"""Day and month in either order."""
_TRUE = {"true", "yes", "1", "y", "t", "1.0"}
_FALSE = {"false", "no", "0", "n", "f", "0.0"}


@dataclass(frozen=True)
class Column:
    """One column: its unit stands in its name, its default is used and reported where empty."""

    name: str
    kind: Kind
    meaning: str
    required: bool = False
    default: Any = None
    low: float | None = None
    high: float | None = None
    choices: tuple[str, ...] = ()

    def expectation(self) -> str:
        """What a value must be, in words.

        >>> Column("diameter_mm", "real", "bore", low=10, high=3000).expectation()
        'a number in mm from 10 to 3000'
        """
        if self.choices:
            return "one of " + ", ".join(self.choices)
        unit = label_of(self.name)
        words = _WORDS[self.kind] + (f" in {unit}" if unit else "")
        if self.low is not None and self.high is not None:
            return f"{words} from {self.low:g} to {self.high:g}"
        if self.low is not None:
            return f"{words} of at least {self.low:g}"
        return f"{words} of at most {self.high:g}" if self.high is not None else words


@dataclass(frozen=True)
class Table:
    """One table: its columns in order, the columns that identify a row, and its geometry."""

    name: str
    meaning: str
    columns: tuple[Column, ...]
    key: tuple[str, ...] = ()
    geometry: Shape | None = None
    either: tuple[tuple[str, ...], ...] = ()
    """Sets of columns of which every row needs one, the usual first."""

    def __getitem__(self, name: str) -> Column:
        for column in self.columns:
            if column.name == name:
                return column
        raise KeyError(f"{self.name} has no column {name}; it has {', '.join(self.names())}")

    def names(self) -> tuple[str, ...]:
        """Column names in order."""
        return tuple(c.name for c in self.columns)

    def required(self) -> tuple[str, ...]:
        """Names of the columns that must be there."""
        return tuple(c.name for c in self.columns if c.required)

    def lacking(self, found: Iterable[str]) -> tuple[str, ...]:
        """Names of columns that must be there and are not found; of several sets the usual one."""
        known = set(found)
        whole = not self.either or any(known.issuperset(names) for names in self.either)
        needed = (*self.required(), *(() if whole else self.either[0]))
        return tuple(n for n in needed if n not in known)

    def instead(self, name: str) -> str:
        """What may be given in place of a column, in words that follow on it; '' if nothing."""
        others = self.either[1:] if self.either and name in self.either[0] else ()
        return "".join(f", or {' and '.join(names)} instead" for names in others)


def estimated(name: str, meaning: str) -> tuple[Column, Column, Column]:
    """The three columns of an estimate: x, x_low, x_high (95 %)."""
    return (
        Column(name, "real", meaning),
        Column(f"{name}_low", "real", f"{meaning}, lower 95 % limit"),
        Column(f"{name}_high", "real", f"{meaning}, upper 95 % limit"),
    )


def empty(table: Table) -> pd.DataFrame:
    """The table without rows, each column in its kind."""
    return _empty(table).copy()


@cache
def _empty(table: Table) -> pd.DataFrame:
    return pd.DataFrame({c.name: _coerced(c, pd.Series([], dtype=object)) for c in table.columns})


def check(
    table: Table,
    frame: pd.DataFrame,
    *,
    source: str,
    place: Callable[[Any], str] | None = None,
    told: Mapping[str, Container[Any]] | None = None,
    section: str = "layers",
) -> tuple[pd.DataFrame, tuple[Finding, ...]]:
    """Bring `frame` to the declared kinds and defaults; say what does not fit.

    Returns a new frame with exactly the table's columns (missing optional ones filled with their
    default, unusable values empty) on the caller's index, and the findings: missing required
    columns, empty required values, values of the wrong kind, out of bounds or not among the
    choices, and repeated keys. `place` turns an index value into words ('pipe P12'); `told` are
    rows by column whose value was told of before, and is not again. `section` is where the
    settings speak of such tables.
    """
    where = place or (lambda row: f"row {row}")
    findings = [
        Finding(
            "error",
            source,
            column=c.name,
            got="no such column" + closest(c.name, frame.columns),
            expected=f"{c.expectation()}: {c.meaning}{table.instead(c.name)}",
            remedy=f"Add the column, or name yours under [{section}.{table.name}.columns] "
            "in district.toml",
        )
        for c in map(table.__getitem__, table.lacking(frame.columns))
    ]
    ready: dict[str, pd.Series[Any]] = {}
    for c in table.columns:
        raw = frame[c.name] if c.name in frame.columns else pd.Series(None, index=frame.index)
        values = _coerced(c, raw)
        lost = values.isna()
        if lost.any():
            findings += _each(c, raw[lost & ~_blank(raw)], source, where)
        ready[c.name] = values
    tidy = pd.DataFrame(ready, index=frame.index)
    for row, name, value in _failures(table, tidy):
        c = table[name]
        if told is not None and row in told.get(name, ()):
            continue
        if name in frame.columns and not _blank(frame[name]).loc[[row]].any():
            if tidy[name].loc[[row]].notna().all():
                findings += _each(c, pd.Series([value], index=[row]), source, where)
                if c.kind in ("real", "whole"):
                    tidy.loc[row, name] = np.nan
        elif name in frame.columns:
            findings += _each(c, pd.Series(["nothing"], index=[row]), source, where, quote=False)
    findings += _repeats(table, tidy, source, where)
    for c in table.columns:
        if c.default is not None:
            tidy[c.name] = tidy[c.name].where(tidy[c.name].notna(), c.default)
            if c.kind == "flag":
                tidy[c.name] = tidy[c.name].astype(bool)
    if table.geometry is not None and "geometry" in tidy and isinstance(frame, gpd.GeoDataFrame):
        tidy = gpd.GeoDataFrame(tidy, geometry="geometry", crs=frame.crs)
    return tidy, tuple(findings)


def _blank(raw: pd.Series[Any]) -> pd.Series[Any]:
    if pd.api.types.is_numeric_dtype(raw.dtype):
        return raw.isna()
    return raw.isna() | (raw.astype(str).str.strip() == "")


def _coerced(column: Column, raw: pd.Series[Any]) -> pd.Series[Any]:
    filled = raw.where(~_blank(raw)) if len(raw) else raw
    if column.kind in ("real", "whole"):
        numbers = pd.to_numeric(filled, errors="coerce").astype(float)
        numbers = numbers.where(np.isfinite(numbers))
        return numbers.where(numbers == numbers.round()) if column.kind == "whole" else numbers
    if column.kind == "flag":
        words = filled.astype(str).str.strip().str.lower()
        said = words.map({**dict.fromkeys(_TRUE, True), **dict.fromkeys(_FALSE, False)})
        return said.astype(object).where(said.notna(), None)
    if column.kind == "date":
        return pd.to_datetime(filled, errors="coerce", format="ISO8601").dt.normalize()
    if column.kind == "time":
        return pd.to_datetime(filled, errors="coerce", utc=True, format="ISO8601")
    if column.kind == "text":
        return filled.map(id_text, na_action="ignore").astype(object)
    return filled


@cache
def _schema(table: Table) -> pa.DataFrameSchema:
    columns: dict[str, pa.Column] = {}
    for c in table.columns:
        checks = []
        if c.low is not None:
            checks.append(pa.Check.ge(c.low))
        if c.high is not None:
            checks.append(pa.Check.le(c.high))
        if c.choices:
            checks.append(pa.Check.isin(list(c.choices)))
        columns[c.name] = pa.Column(nullable=not c.required, checks=checks)
    return pa.DataFrameSchema(columns)


def _failures(table: Table, tidy: pd.DataFrame) -> list[tuple[Any, str, Any]]:
    numbered = tidy.reset_index(drop=True)
    try:
        _schema(table).validate(pd.DataFrame(numbered), lazy=True)
    except pa.errors.SchemaErrors as found:
        cases = found.failure_cases
        cases = cases[cases["index"].notna() & cases["column"].isin(table.names())]
        rows = [int(i) for i in cases["index"]]
        return [
            (tidy.index[row], str(name), numbered.loc[row, name])
            for row, name in zip(rows, cases["column"], strict=True)
        ]
    return []


def _each(
    column: Column,
    bad: pd.Series[Any],
    source: str,
    where: Callable[[Any], str],
    quote: bool = True,
) -> list[Finding]:
    return [
        Finding(
            "error",
            source,
            where(row),
            column.name,
            got=_quoted(value) if quote else str(value),
            expected=column.expectation(),
            remedy=_mend(column, value),
        )
        for row, value in bad.items()
    ]


def _mend(column: Column, value: Any) -> str:
    if column.kind in ("date", "time") and _EITHER_WAY.match(str(value)):
        return "Write the year first: which is the day and which the month cannot be told here"
    default = "" if column.required else " or leave it empty to use the default"
    return f"Correct the value{default}"


def _quoted(value: Any) -> str:
    if isinstance(value, (int, float, np.number)):
        return f"{value:g}"
    text = str(value)
    return f'"{text if len(text) <= 60 else text[:57] + "..."}"'


def _repeats(
    table: Table, tidy: pd.DataFrame, source: str, where: Callable[[Any], str]
) -> list[Finding]:
    if not table.key or tidy.empty:
        return []
    keys = tidy[list(table.key)]
    again = keys[keys.duplicated(keep="first") & keys.notna().all(axis=1)]
    return [
        Finding(
            "error",
            source,
            where(row),
            ", ".join(table.key),
            got=f"{', '.join(str(v) for v in key)} a second time",
            expected="each only once",
            remedy="Give each its own id, or remove the copy",
        )
        for row, key in zip(again.index, again.itertuples(index=False), strict=True)
    ]
