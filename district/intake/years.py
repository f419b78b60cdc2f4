"""Years as people write them: a year, a date of any kind, '1970s', 'ca. 1950', a serial number."""

from __future__ import annotations

import re
from dataclasses import dataclass
from datetime import date
from typing import Any

import numpy as np
import pandas as pd

from district.errors import Finding
from district.intake.choice_words import says_nothing
from district.words import listed, missing, plural

NOTHING_YEARS = (0.0, -1.0, -99.0, -999.0, -9999.0, 999.0, 9999.0)
NOTHING_DATES = (date(1900, 1, 1), date(1899, 12, 30), date(1899, 12, 31))
"""What stands for an unknown year or date in many systems (common practice, no source)."""
_FIRST, _LAST = 1800, 2100
_SERIAL_DAYS = (2101.0, 73000.0)
_USUAL_DAYS = 10000.0
_SPREADSHEET_ZERO = pd.Timestamp("1899-12-30")
_YEAR = r"(1[89]\d\d|20\d\d|2100)"
_MONTH, _DAY = r"(?:0?[1-9]|1[0-2])", r"(?:0?[1-9]|[12]\d|3[01])"
_MONTHS = (
    "jan|feb|mar|mär|apr|may|mai|jun|jul|aug|sep|oct|okt|nov|dec|dez|ene|abr|ago|dic|gen|mag|giu|"
    "lug|set|ott|fév|fev|avr|aoû|aou|déc|mei|maa|juin|juil"
)
_EXACT = (
    re.compile(rf"{_YEAR}(?:[.,]0+)?"),
    re.compile(rf"{_YEAR}(?:0[1-9]|1[0-2])(?:0[1-9]|[12]\d|3[01])"),
    re.compile(rf"{_YEAR}[-/.]{_MONTH}(?:[-/.]{_DAY}(?:[t ].*)?)?"),
    re.compile(rf"(?:{_DAY}[-/. ]+)?{_MONTH}[-/. ]+{_YEAR}(?: .*)?"),
    re.compile(rf"{_MONTH}[-/. ]+{_DAY}[-/. ]+{_YEAR}(?: .*)?"),
    re.compile(
        rf"(?:{_DAY}[-. ]+(?:de )?)?(?:{_MONTHS})\w*\.?[-., ]+(?:de )?(?:{_DAY}[., ]+)?{_YEAR}"
    ),
)
_DECADE = re.compile(r"(early|mid|late)?[- ]*(?:the |in )?(1[89]\d|20\d)0\s*'?(?:s|er|er jahre)")
_WITHIN = {"": 5, "early": 2, "mid": 5, "late": 8}
_SPAN = re.compile(rf"{_YEAR}\s*(?:-|–|/|to|bis|until)\s*(?:{_YEAR}|(\d\d))")
_ABOUT = re.compile(
    rf"(?:ca\.?|c\.?|circa|approx\.?|about|around|um|vers|hacia|est\.?|~|≈|"
    rf"before|pre|prior to|vor|avant|antes de|<=?|after|post|since|from|nach|après|>=?)"
    rf"\s*-?\s*{_YEAR}|{_YEAR}\s*(?:\?|ca\.?|\(?(?:est|approx|circa)[a-z.]*\)?|"
    r"or (?:earlier|later))"
)
_NOTHING = re.compile(
    r"1900[-/.]?0?1[-/.]?0?1(?!\d)|0?1[-/.]0?1[-/.]1900(?!\d)|1899[-/.]?12[-/.]?3[01](?!\d)|"
    r"3[01][-/.]12[-/.]1899(?!\d)|12[-/.]3[01][-/.]1899(?!\d)|9999[-/.]"
)


@dataclass(frozen=True, eq=False)
class Years:
    """A column as years, one entry a row."""

    values: pd.Series[Any]
    """Whole years as floats; NaN where there is none, the text itself where it is no year."""
    unsure: np.ndarray[Any, np.dtype[np.bool_]]
    """A span, a decade or 'about': the middle, or the year named, was taken."""
    nothing: np.ndarray[Any, np.dtype[np.bool_]]
    """A stand-in for 'not known', such as 0, 9999 or 1900-01-01."""
    counted: str = ""
    """Where numbers count from a day: what they count; '' elsewhere."""


def read_years(raw: pd.Series[Any]) -> Years:
    """A column of years, dates or texts as years.

    Numbers too large for years are spreadsheet days (from 1900), or seconds or milliseconds from
    1970, where all the numbers of the column are.
    """
    if pd.api.types.is_datetime64_any_dtype(raw.dtype):
        raw = raw.astype(object)
    blank = raw.map(missing).astype(bool)
    codes, unique = pd.factorize(raw.astype(object).where(~blank), use_na_sentinel=True)
    counted, from_days = _counted(unique)
    # One entry a text, and a last one for blanks, whose code is -1.
    read = np.full(len(unique) + 1, np.nan, dtype=object)
    unsure, nothing = np.zeros(len(read), dtype=bool), np.zeros(len(read), dtype=bool)
    for n, value in enumerate(unique):
        year, unsure[n] = from_days(value) if counted else _year(value)
        nothing[n] = year is None and _stands_for_nothing(value)
        if not nothing[n]:
            read[n] = value if year is None else float(year)
    return Years(
        pd.Series(read[codes], index=raw.index, dtype=object),
        unsure[codes],
        nothing[codes],
        counted,
    )


def year_findings(raw: pd.Series[Any], years: Years, *, source: str, column: str) -> list[Finding]:
    """What was made of dates that are vague, no dates, or numbers of days."""
    findings = []
    if years.unsure.any():
        texts = list(dict.fromkeys(str(v) for v in raw[years.unsure]))
        findings.append(
            Finding(
                "note",
                source,
                column=column,
                got=f"{plural(int(years.unsure.sum()), 'vague year')} "
                f"({listed(texts)}), taken as the year named or the middle of the span",
                remedy="Give the year where it is known",
            )
        )
    if years.nothing.any():
        texts = list(dict.fromkeys(_shown(v) for v in raw[years.nothing]))
        findings.append(
            Finding(
                "note",
                source,
                column=column,
                got=f"{listed(texts)} in {plural(int(years.nothing.sum()), 'row')}, "
                "taken as not known",
                remedy="Give the year where it is known",
            )
        )
    if years.counted:
        findings.append(
            Finding(
                "note",
                source,
                column=column,
                got=f"numbers too large for years, read as {years.counted}",
                expected="a year",
                remedy="Check some of them against the years you know",
            )
        )
    return findings


def _counted(unique: Any) -> tuple[str, Any]:
    """How to read a column whose every number counts days or seconds; '' if it is none."""
    numbers = pd.to_numeric(pd.Series(list(unique), dtype=object), errors="coerce")
    numbers = numbers[numbers.notna() & ~numbers.isin(NOTHING_YEARS)].astype(float)
    if numbers.empty:
        return "", None
    if numbers.between(*_SERIAL_DAYS).all() and numbers.median() >= _USUAL_DAYS:
        return "spreadsheet days", lambda v: _since(v, "D", _SPREADSHEET_ZERO)
    far = numbers.abs()
    if far.max() > 1e10 and far.median() > 1e9:
        return "milliseconds since 1970", lambda v: _since(v, "ms", pd.Timestamp(0))
    if far.max() > 1e8 and far.median() > 1e7 and not _compact(numbers):
        return "seconds since 1970", lambda v: _since(v, "s", pd.Timestamp(0))
    return "", None


def _compact(numbers: pd.Series[Any]) -> bool:
    return bool(numbers.between(18000101, 21001231).all())


def _since(value: Any, unit: str, zero: pd.Timestamp) -> tuple[int | None, bool]:
    count = pd.to_numeric(value, errors="coerce")
    if not np.isfinite(count) or float(count) in NOTHING_YEARS:
        return None, False
    try:
        return int((zero.as_unit("s") + pd.to_timedelta(float(count), unit=unit)).year), False
    except (OverflowError, ValueError):
        return None, False


def _year(value: Any) -> tuple[int | None, bool]:
    """The year a value means, if any, and whether it is vague."""
    if hasattr(value, "year"):
        day = date(value.year, value.month, value.day)
        inside = _FIRST <= day.year <= _LAST and day not in NOTHING_DATES
        return (day.year if inside else None), False
    text = str(value).strip().casefold()
    if _stands_for_nothing(text):
        return None, False
    if found := _DECADE.fullmatch(text):
        return int(found[2]) * 10 + _WITHIN[found[1] or ""], True
    for pattern in _EXACT:
        if found := pattern.fullmatch(text):
            return int(found[1]), False
    if found := _SPAN.fullmatch(text):
        first = int(found[1])
        last = int(found[2] or f"{str(first)[:2]}{found[3]}")
        return ((first + last) // 2, True) if first <= last else (None, False)
    if found := _ABOUT.fullmatch(text):
        return int(found[1] or found[2]), True
    return None, False


def _stands_for_nothing(value: Any) -> bool:
    if hasattr(value, "year"):
        return date(value.year, value.month, value.day) in NOTHING_DATES or value.year == 9999
    text = str(value).strip()
    number = pd.to_numeric(text, errors="coerce")
    if np.isfinite(number):
        return float(number) in NOTHING_YEARS
    return says_nothing(text) or bool(_NOTHING.match(text))


def _shown(value: Any) -> str:
    return str(value).removesuffix(" 00:00:00").removesuffix("T00:00:00").removesuffix(".0")
