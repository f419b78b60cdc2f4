from __future__ import annotations

import datetime
from typing import Any

import pandas as pd
import pytest

from district.intake.years import read_years, year_findings


def one(value: Any) -> tuple[Any, bool, bool]:
    years = read_years(pd.Series([value], dtype=object))
    return years.values[0], bool(years.unsure[0]), bool(years.nothing[0])


@pytest.mark.parametrize(
    "value",
    [
        1974,
        1974.0,
        "1974",
        "1974.0",
        "19740601",
        "1974-06",
        "1974-06-01",
        "1974-06-01T00:00:00",
        "1974/06/01 00:00:00+00",
        "06/1974",
        "6.1974",
        "13/6/1974",
        "6/13/1974",
        "1.6.1974",
        "Jun 1974",
        "1 June 1974",
        "June 1, 1974",
        "1 de junio de 1974",
        datetime.date(1974, 6, 1),
        pd.Timestamp("1974-06-01"),
    ],
)
def test_a_year_within_what_is_written(value: Any) -> None:
    assert one(value) == (1974.0, False, False)


@pytest.mark.parametrize(
    ("text", "year"),
    [
        ("1970s", 1975),
        ("1970's", 1975),
        ("1970er", 1975),
        ("early 1970s", 1972),
        ("late 1970s", 1978),
        ("ca. 1950", 1950),
        ("c1950", 1950),
        ("~1950", 1950),
        ("1950?", 1950),
        ("1950 (est)", 1950),
        ("before 1930", 1930),
        ("pre-1930", 1930),
        ("after 1980", 1980),
        ("1960-1970", 1965),
        ("1960-69", 1964),
        ("1974/75", 1974),
    ],
)
def test_a_vague_year_is_its_middle(text: str, year: int) -> None:
    assert one(text) == (year, True, False)


@pytest.mark.parametrize(
    "value",
    [0, 9999, -9999, "0", "1900-01-01", "1900-01-01T00:00:00", "1/1/1900", "01.01.1900",
     "9999-12-31", "unknown", "n/a", "?", "-", datetime.date(1900, 1, 1)],
)  # fmt: skip
def test_what_stands_for_not_known(value: Any) -> None:
    year, unsure, nothing = one(value)
    assert pd.isna(year)
    assert (unsure, nothing) == (False, True)


@pytest.mark.parametrize("value", ["seventies", 74, 9120, "01-JUN-74", "1974-1960", "2500"])
def test_what_is_no_year_stays_as_written(value: Any) -> None:
    assert one(value) == (value, False, False)


def test_blanks_are_neither_years_nor_told() -> None:
    years = read_years(pd.Series([None, "", " ", float("nan")], dtype=object))
    assert years.values.isna().all()
    assert not years.nothing.any()


@pytest.mark.parametrize(
    ("numbers", "counted"),
    [
        # 1974-06-01 is day 27181 of a spreadsheet, and 139276800 s after 1970 began: by hand.
        ([27181, 0, 9863], "spreadsheet days"),
        (["27181", "30000"], "spreadsheet days"),
        ([139276800, -599616000], "seconds since 1970"),
        ([139276800000, -599616000000], "milliseconds since 1970"),
    ],
)
def test_numbers_that_count_days(numbers: list[Any], counted: str) -> None:
    years = read_years(pd.Series(numbers))
    assert years.values[0] == 1974.0
    assert years.counted == counted


def test_one_odd_number_among_years_is_no_day_count() -> None:
    years = read_years(pd.Series([1974, 27181]))
    assert years.values.tolist() == [1974.0, 27181]
    assert years.counted == ""


def test_dates_of_a_gis_keep_their_years() -> None:
    dates = pd.Series(pd.to_datetime(["1974-06-01", "1900-01-01", None]))
    years = read_years(dates)
    assert years.values[0] == 1974.0
    assert years.nothing.tolist() == [False, True, False]


def test_what_was_made_of_them_is_told_with_counts() -> None:
    raw = pd.Series(["1970s", "1960s", "0", 1980, "0"], dtype=object)
    told = year_findings(raw, read_years(raw), source="p.shp", column="installed_year")
    assert [f.sentence() for f in told] == [
        "p.shp, column installed_year: got 2 vague years (1960s and 1970s), taken as the year "
        "named or the middle of the span. Give the year where it is known.",
        "p.shp, column installed_year: got 0 in 2 rows, taken as not known. Give the year where "
        "it is known.",
    ]
    days = pd.Series([27181.0, 27182.0])
    (note,) = year_findings(days, read_years(days), source="p.shp", column="installed_year")
    assert note.sentence() == (
        "p.shp, column installed_year: got numbers too large for years, read as spreadsheet days, "
        "expected a year. Check some of them against the years you know."
    )
