"""Which of a layer's columns holds which of ours, by name and by the first rows' values."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import numpy as np
import pandas as pd

from district.intake.amount_columns import our_numbers
from district.intake.amounts import read_amounts
from district.intake.choices import read_choices, unexplained
from district.intake.column_words import is_any_id, likeness
from district.intake.guess_units import guess_unit
from district.intake.proposal import EMPTY, ColumnGuess, Sureness
from district.intake.tabular import numbers
from district.schema.columns import Column, Table, check
from district.words import id_text, percent

_SURE, _NEAR, _OF_USE = 0.85, 0.55, 0.5
_MOST = 0.9
_SHOWN = 4
_OWN_TABLE = ("parent_id",)
"""Refers to the table's own ids, as its key itself does: values alone do not tell it."""
References = Mapping[str, frozenset[str]]
"""Column of ours -> ids its values are expected among."""


def guess_columns(
    table: Table,
    frame: pd.DataFrame,
    *,
    ids: References | None = None,
    drawn_m: np.ndarray[Any, Any] | None = None,
) -> tuple[ColumnGuess, ...]:
    """For each of the table's columns the user's column that most likely holds it, if any.

    `frame` holds the first rows as the user has them. `ids` are known ids for columns that refer
    to something; `drawn_m` the drawn length of each row's line in metres. Each user's column is
    given once, the best fits first.
    """
    wanted = [c for c in table.columns if c.kind != "geometry"]
    scored = sorted(
        (
            (-_score(table, column, str(theirs), frame, ids or {}), n, str(theirs))
            for n, column in enumerate(wanted)
            for theirs in frame.columns
        ),
    )
    guesses: dict[str, ColumnGuess] = {}
    taken: set[str] = set()
    for score, n, theirs in scored:
        column = wanted[n]
        if -score < _NEAR or column.name in guesses or theirs in taken:
            continue
        guesses[column.name] = _guess(table, column, theirs, frame, ids or {}, drawn_m)
        taken.add(theirs)
    for name in table.key:
        keys = [str(c) for c in frame.columns if _could_be_key(frame, str(c), taken)]
        if name not in guesses and keys:
            guesses[name] = ColumnGuess(name, keys[0], "unsure", "no value of it comes twice")
    return tuple(guesses[c.name] for c in wanted if c.name in guesses)


def as_texts(values: pd.Series[Any]) -> pd.Series[Any]:
    """The values that are there, as the ids they may be: 12.0 is 12, blanks are none."""
    said = values.dropna()
    texts = said.map(id_text).astype(object)
    return texts[texts != ""]


def share_among(values: pd.Series[Any], ids: frozenset[str]) -> float:
    """Share of the values that are there and among `ids`."""
    texts = as_texts(values)
    return float(texts.isin(ids).mean()) if len(texts) and ids else 0.0


def is_key(values: pd.Series[Any]) -> bool:
    """Whether the values could name their rows: all there, all different."""
    texts = as_texts(values)
    return len(texts) == len(values) > 0 and bool(texts.is_unique)


def _could_be_key(frame: pd.DataFrame, theirs: str, taken: set[str]) -> bool:
    numbered = pd.api.types.is_float_dtype(frame[theirs].dtype)
    return theirs not in taken and not numbered and is_key(frame[theirs])


def _score(
    table: Table, column: Column, theirs: str, frame: pd.DataFrame, ids: References
) -> float:
    alike = likeness(table.name, column.name, theirs)
    values = frame[theirs]
    if ids.get(column.name):
        among = share_among(values, ids[column.name])
        own = column.name in _OWN_TABLE and alike == 0.0
        if among >= _OF_USE and not own and (column.name not in table.key or is_key(values)):
            return max(alike, 0.6) + 0.5 * among
    if alike == 0.0:
        return 0.0
    if column.name in table.key and alike < 1.0 and not is_key(values):
        return 0.0
    if column.choices and alike < 1.0:
        # Which of two columns called alike is meant, its values tell.
        return alike + 0.3 * _understood(table, column, values) - 0.1
    return alike


def _understood(table: Table, column: Column, values: pd.Series[Any]) -> float:
    """Share of the values there that are among our choices or mean one to the trade."""
    there = len(as_texts(values))
    strange = sum(unexplained(table, column.name, values).values())
    return 1.0 - strange / there if there else 0.0


def _guess(
    table: Table,
    column: Column,
    theirs: str,
    frame: pd.DataFrame,
    ids: References,
    drawn_m: np.ndarray[Any, Any] | None,
) -> ColumnGuess:
    alike = likeness(table.name, column.name, theirs)
    values = frame[theirs]
    unit, unit_sure, unit_why = guess_unit(column.name, theirs, numbers(values), drawn_m=drawn_m)
    if _units_of_their_own(values, column.name):
        unit, unit_sure, unit_why = "", "sure", "its values name their unit"
    sureness: Sureness = "sure" if alike >= _SURE else "likely" if alike >= _NEAR else "unsure"
    why = "its own name" if alike == 1.0 else f'"{theirs}" is a usual name for it'
    if alike < 0.7:
        why = f'"{theirs}" is near a usual name for it'
    if column.name in table.key and alike < 1.0:
        sureness = "likely" if sureness == "unsure" or is_any_id(theirs) else sureness
        why += ", and no value comes twice"
    if ids.get(column.name):
        among = share_among(values, ids[column.name])
        if among >= _OF_USE:
            sureness = "sure" if among >= _MOST else "likely"
            why = f"{percent(among, decimals=0)} of its values are {_known(column, table)}"
        elif among and column.name in table.key:
            # Of a file sorted by device only the first few are seen.
            why += f"; some of its values are {_known(column, table)}"
        elif alike < 1.0:
            sureness = "unsure"
            why += f", but its values are not {_known(column, table)}"
    if unit_why:
        why += f"; {unit_why}"
        sureness = _least(sureness, unit_sure)
    remark = _remark(table, column, values, unit)
    if remark and alike < 1.0 and not column.required:
        sureness = "unsure"
    unread = tuple(unexplained(table, column.name, values)) if column.choices else ()
    return ColumnGuess(column.name, theirs, sureness, why, unit, remark, unread)


def _known(column: Column, table: Table) -> str:
    if column.name in table.key:
        return "ids the readings carry"
    where = {"downstream": "zones", "parent_id": "zones", "meter_id": "meters"} | {
        "pipe_id": "pipes",
        "valve_id": "valves",
    }
    return f"ids of {where.get(column.name, 'other layers')}"


def _least(one: Sureness, other: Sureness) -> Sureness:
    order: tuple[Sureness, ...] = ("unsure", "likely", "sure")
    return order[min(order.index(one), order.index(other))]


def _remark(table: Table, column: Column, values: pd.Series[Any], unit: str) -> str:
    """What the check will not take as it stands; empty when most values are of use."""
    said = values.dropna()
    said = said[said.astype(str).str.strip() != ""]
    if said.empty:
        return EMPTY
    if column.kind in ("time", "date"):
        return ""
    if column.choices:
        if _understood(table, column, said) >= _OF_USE:
            return ""
    elif _usable(table, column, said, unit) >= _OF_USE:
        return ""
    different = list(dict.fromkeys(str(v).removesuffix(" 00:00:00") for v in said.head(50)))
    shown = ", ".join(v if len(v) <= 20 else f"{v[:17]}..." for v in different[:_SHOWN])
    more = " ..." if len(different) > _SHOWN else ""
    return f"its values ({shown}{more}) do not fit, expected {column.expectation()}"


def _usable(table: Table, column: Column, said: pd.Series[Any], unit: str) -> float:
    alone = Table(table.name, table.meaning, (column,))
    frame = pd.DataFrame({column.name: said})
    frame, _ = our_numbers(frame, alone, {column.name: unit} if unit else {}, source=table.name)
    read = read_choices(frame, alone, {}, source="", section="", place=str)
    _, wrong = check(alone, read.frame, source=table.name, told=read.told)
    unusable = sum(f.severity == "error" for f in wrong) + len(read.told.get(column.name, ()))
    return 1.0 - unusable / len(said)


def _units_of_their_own(values: pd.Series[Any], ours: str) -> bool:
    if pd.api.types.is_numeric_dtype(values.dtype):
        return False
    texts = as_texts(values)
    read = read_amounts(texts, ours)
    named = (read.units != "") & np.isfinite(read.values)
    return len(texts) > 0 and float(named.mean()) >= _OF_USE
