"""Rows below a table that are none of it: 'End of data', totals, who exported it."""

from __future__ import annotations

import re

import pandas as pd

from district.intake.table_shape import kind_of

_LAST = 10
_WORDS = re.compile(
    r"\W*(end|total|totals|sum|sums|average|mean|median|max|maximum|min|minimum|count|records|rows|"
    r"summe|gesamt|total général|mittelwert|mittel|ende|fin|moyenne|somme|totale|media|totaal)\b",
    re.IGNORECASE,
)


def without_footer(frame: pd.DataFrame) -> pd.DataFrame:
    """The frame without rows at its end that begin with a word of totals or ends and carry no
    time, or that hold nothing but a text of several words."""
    last = frame.tail(_LAST)
    count = 0
    for row in reversed(list(last.itertuples(index=False))):
        if not _is_footer([cell for cell in row if kind_of(cell)], len(frame.columns)):
            break
        count += 1
    return frame.iloc[: len(frame) - count] if count else frame


def _is_footer(said: list[object], columns: int) -> bool:
    kinds = [kind_of(cell) for cell in said]
    if not said or kinds[0] != "text" or "time" in kinds or columns < 2:
        return False
    text = str(said[0]).strip()
    alone = len(said) == 1 and (len(text.split()) > 1 or not text[0].isalnum())
    return alone or _WORDS.match(text) is not None
