"""Which columns of a reading file hold its times, and what is said of their clock."""

from __future__ import annotations

from typing import Any, Literal
from zoneinfo import ZoneInfo

import pandas as pd

from district.intake.clock import read_times
from district.intake.column_words import likeness
from district.intake.guess_columns import as_texts
from district.intake.joined_times import are_times_of_day
from district.intake.reading_ids import HALF
from district.intake.trade_words import words

_UTC = ZoneInfo("UTC")
_OWN_OFFSET = r"\d{2}:\d{2}\S*\s*(?:[zZ]|[+-]\d{2}:?\d{2})$"
_MOST = 0.9
_MIDNIGHT = r"[T ]\s*0?0:00(?::00(?:[.,]0+)?)?$"


def time_pair(frame: pd.DataFrame) -> tuple[str, str] | None:
    """The column of dates and that of times of day, where times stand in two columns."""
    clock = clock_column(frame)
    if not clock:
        return None
    dates = [c for c in map(str, frame.columns) if c != clock and _are_dates(frame[c])]
    best = max(dates, key=lambda c: (likeness("readings", "time", c), -dates.index(c)), default="")
    return (best, clock) if best else None


def clock_column(frame: pd.DataFrame) -> str:
    """The column that holds times of day without their dates; '' if none."""
    for column in map(str, frame.columns):
        numbers = pd.api.types.is_numeric_dtype(frame[column].dropna().infer_objects().dtype)
        # A share of a day is told from any other small number by its heading alone.
        named = likeness("readings", "time", column) > 0
        if are_times_of_day(frame[column]) and (named or not (numbers or _small(frame[column]))):
            return column
    return ""


def _small(values: pd.Series[Any]) -> bool:
    return not as_texts(values.head(50)).astype(str).str.contains(":").any()


def _are_dates(values: pd.Series[Any]) -> bool:
    said = values.dropna().head(200)
    if said.empty or _is_number(said):
        return False
    texts = said.astype(str).str.strip()
    if texts.str.replace(_MIDNIGHT, "", regex=True).str.contains(":").mean() > 1 - HALF:
        return False
    return 1.0 - float(read_times(said, zone=_UTC).unreadable.mean()) >= HALF or _in_doubt(texts)


def _in_doubt(texts: pd.Series[Any]) -> bool:
    """Whether these are dates of which only the file's other days tell the month."""
    return bool(texts.str.fullmatch(r"\d{1,2}[./-]\d{1,2}[./-]\d{4}").mean() >= _MOST)


def _dates_of(values: pd.Series[Any]) -> pd.Series[Any]:
    return values.astype(str).str.strip().str.replace(r"\s.*", "", regex=True)


def time_column(frame: pd.DataFrame) -> str | None:
    """The column of times, with their dates; None if there is none."""
    scored = []
    for n, column in enumerate(frame.columns):
        said = frame[column].dropna().head(200)
        if said.empty or _is_number(said):
            continue
        read = read_times(said, zone=_UTC)
        share = 1.0 - float(read.unreadable.mean())
        # Of the first rows' dates the month may be in doubt; the whole file will tell it.
        if share < HALF and _in_doubt(_dates_of(said)):
            share = HALF
        if share >= HALF:
            scored.append((share + likeness("readings", "time", str(column)), -n, str(column)))
    return max(scored)[2] if scored else None


def clock_of(times: pd.Series[Any], heading: str) -> tuple[str, str]:
    """The time zone that times or their heading tell ('own': an offset each), and how."""
    if isinstance(times.dtype, pd.DatetimeTZDtype):
        return "own", "the times carry their own offset"
    texts = as_texts(times.head(50))
    if len(texts) and texts.str.contains(_OWN_OFFSET, regex=True).mean() >= _MOST:
        return "own", "the times carry their own offset"
    if {"utc", "gmt"} & set(words(heading)):
        return "UTC", f'its heading "{heading}" says so'
    return "", ""


def stamp_of(heading: str) -> tuple[Literal["", "start", "end"], str]:
    """Which end of its interval a time is, by its heading, and how that is known."""
    said = set(words(heading))
    if said & {"start", "begin", "from"}:
        return "start", f'its heading "{heading}" says so'
    if said & {"end", "until"}:
        return "end", f'its heading "{heading}" says so'
    return "", ""


def _is_number(values: pd.Series[Any]) -> bool:
    return bool(pd.api.types.is_numeric_dtype(values.dtype))
