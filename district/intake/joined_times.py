"""A date in one column and a time of day in another as one time."""

from __future__ import annotations

import datetime
import re
from typing import Any

import pandas as pd

_LOOKED_AT = 200
_MOST = 0.5
_OF_DAY = re.compile(
    r"(?:\d{4}-\d{2}-\d{2}[T ])?(\d{1,2}):(\d{2})(?::(\d{2})(?:[.,]\d+)?)?\s*([ap])?\.?(?:m\.?)?",
    re.IGNORECASE,
)
_FRACTION = re.compile(r"[01]?[.,]\d+|0")
_AFTER_DATE = re.compile(r"[T ]\s*\d{1,2}:\d{2}.*$")
_DAY_S = 86400
_BOOK_EPOCH = 1900
"""Spreadsheets keep a time of day as one of this year, or the one before."""


def are_times_of_day(values: pd.Series[Any]) -> bool:
    """Whether most of the first values are times of day, without a date."""
    said = values.dropna().head(_LOOKED_AT)
    return len(said) > 0 and float(said.map(_is_time_of_day).mean()) >= _MOST


def joined(dates: pd.Series[Any], clocks: pd.Series[Any]) -> pd.Series[Any]:
    """Dates and times of day as texts 'date HH:MM:SS', the date as it was written.

    Dates may be dates or texts, and may carry a time of day that is left aside. Times of day may
    be texts (with seconds, am or pm), times, or fractions of a day; the end of a day is 24:00:00.
    A row that lacks one of both says so; a row that lacks both stays empty.
    """
    days = _mapped(dates, _date_text)
    times = _mapped(clocks, _clock_text)
    both = days.fillna("(no date)") + " " + times.fillna("(no time of day)")
    return both.where(days.notna() | times.notna()).astype(object)


def _mapped(values: pd.Series[Any], said: Any) -> pd.Series[Any]:
    codes, unique = pd.factorize(values, use_na_sentinel=True)
    texts = pd.Series([*map(said, unique), None], dtype=object)
    return pd.Series(texts.to_numpy()[codes], index=values.index, dtype=object)


def _date_text(value: Any) -> str | None:
    if isinstance(value, datetime.date):
        return value.strftime("%Y-%m-%d")
    text = _AFTER_DATE.sub("", str(value).strip())
    return text or None


def _clock_text(value: Any) -> str | None:
    if isinstance(value, datetime.datetime):
        late = value.year == _BOOK_EPOCH and value.time() == datetime.time()
        return "24:00:00" if late else value.strftime("%H:%M:%S")
    if isinstance(value, datetime.time):
        return value.strftime("%H:%M:%S")
    if isinstance(value, datetime.timedelta):
        return _of_seconds(value.total_seconds())
    text = str(value).strip()
    number = isinstance(value, (int, float)) and not isinstance(value, bool)
    if _FRACTION.fullmatch(text) or (number and 0 <= value <= 1):
        return _of_seconds(float(text.replace(",", ".")) * _DAY_S)
    found = _OF_DAY.fullmatch(text)
    if not found:
        return text or None
    hour, half = int(found[1]), (found[4] or "").lower()
    if half and 1 <= hour <= 12:
        hour = hour % 12 + (12 if half == "p" else 0)
    return f"{hour:02d}:{found[2]}:{found[3] or '00'}"


def _of_seconds(seconds: float) -> str:
    whole = round(seconds)
    return f"{whole // 3600:02d}:{whole // 60 % 60:02d}:{whole % 60:02d}"


def _is_time_of_day(value: Any) -> bool:
    if isinstance(value, datetime.datetime):
        return value.year <= _BOOK_EPOCH
    if isinstance(value, (datetime.time, datetime.timedelta)):
        return True
    if isinstance(value, (int, float)):
        return 0 <= value <= 1
    text = str(value).strip()
    found = _OF_DAY.fullmatch(text)
    return bool(_FRACTION.fullmatch(text) or (found and text[:1].isdigit() and "-" not in text))
