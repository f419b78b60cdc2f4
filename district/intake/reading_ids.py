"""Ids of meters and sensors in reading files: in a column, in headings, in file names."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd

from district.intake.column_words import likeness
from district.intake.guess_columns import as_texts, share_among
from district.intake.heading_units import split_unit
from district.intake.tabular import numbers
from district.intake.trade_words import TABLE_WORDS, parts

HALF = 0.5
"""Share of ids that must be known ones."""
_NAMED = 0.55


def reading_words(frame: pd.DataFrame, file: str, sheet: str = "") -> frozenset[str]:
    """All that may be ids of devices in a table: headings, repeated texts, its file's and sheet's
    names."""
    found = {str(c) for c in frame.columns} | {Path(file).stem} | ({sheet} - {""})
    found |= {split_unit(str(c))[0] for c in frame.columns}
    for column in frame.columns:
        texts = as_texts(frame[column])
        repeated = 0 < texts.nunique() <= max(HALF * len(texts), 1) and numeric_share(texts) < 1
        if repeated or likeness("readings", "device_id", str(column)) >= _NAMED:
            found |= set(texts.unique())
    return frozenset(found)


def speaks_of_readings(file: str) -> bool:
    """Whether a file's name or folder says that it holds readings."""
    return any(w in TABLE_WORDS["readings"] for part in Path(file).parts for w in parts(part))


def numeric_share(values: pd.Series[Any]) -> float:
    """Share of the values that are there and are numbers."""
    said = values.dropna()
    return float(np.isfinite(numbers(said)).mean()) if len(said) else 0.0


def headings(rest: pd.DataFrame, known: frozenset[str]) -> dict[str, str]:
    """Device -> heading, for headings that are or hold one id of ours."""
    found: dict[str, str] = {}
    for heading in map(str, rest.columns):
        device_id = held(heading, known)
        if device_id and (device_id not in found or heading == device_id):
            found[device_id] = heading
    return found


def held(text: str, known: frozenset[str]) -> str:
    """The one id that a heading or file name is or holds, between marks; '' if none or several."""
    if text in known:
        return text
    said = f" {_spaced(text)} "
    found = {k: f" {_spaced(k)} " for k in known if len(k) > 1 and f" {_spaced(k)} " in said}
    # BM-7 is held by BM-7 A as well, but not M1 by M11.
    longest = [
        k for k, words in found.items() if not any(words in w != words for w in found.values())
    ]
    return longest[0] if len(longest) == 1 else ""


def _spaced(text: str) -> str:
    if text.isascii() and text.isalnum():
        return text.lower()  # As most ids are, by the ten thousand.
    return " ".join("".join(c if c.isalnum() else " " for c in text.lower()).split())


def device_column(rest: pd.DataFrame, known: frozenset[str]) -> tuple[str, float] | None:
    """The column that says which device, and the share of its values that are known ids."""
    scored = []
    for n, column in enumerate(map(str, rest.columns)):
        texts = as_texts(rest[column])
        if texts.empty:
            continue
        share = share_among(rest[column], known)
        alike = likeness("readings", "device_id", column)
        repeats = texts.nunique() < len(texts) or len(texts) == 1
        if share >= HALF or (alike >= _NAMED and repeats):
            scored.append((share, alike, -n, column))
    if not scored:
        return None
    share, _, _, column = max(scored)
    return column, share
