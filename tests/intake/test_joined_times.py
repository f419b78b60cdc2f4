from __future__ import annotations

import datetime
from typing import Any

import numpy as np
import pandas as pd
import pytest

from district.intake.joined_times import are_times_of_day, joined

TIME = datetime.time(8, 15)


@pytest.mark.parametrize(
    ("date", "clock", "text"),
    [
        ("25.01.2025", "8:15", "25.01.2025 08:15:00"),
        ("2025-01-25", "08:15:30", "2025-01-25 08:15:30"),
        ("2025-01-25 00:00:00", "08:15:30.000", "2025-01-25 08:15:30"),
        ("2025-01-25 08:15", "08:15", "2025-01-25 08:15:00"),
        ("1/25/2025", "8:15 PM", "1/25/2025 20:15:00"),
        ("1/25/2025", "12:15 a.m.", "1/25/2025 00:15:00"),
        ("25/01/2025", "24:00", "25/01/2025 24:00:00"),
        ("25/01/2025", "0.34375", "25/01/2025 08:15:00"),
        ("25/01/2025", "0,34375", "25/01/2025 08:15:00"),
        ("25/01/2025", 0.34375, "25/01/2025 08:15:00"),
        ("25/01/2025", 1.0, "25/01/2025 24:00:00"),
        ("25/01/2025", 0, "25/01/2025 00:00:00"),
        (datetime.datetime(2025, 1, 25), TIME, "2025-01-25 08:15:00"),
        (datetime.date(2025, 1, 25), pd.Timedelta(minutes=495), "2025-01-25 08:15:00"),
        (pd.Timestamp("2025-01-25"), datetime.datetime(1899, 12, 30, 8, 15), "2025-01-25 08:15:00"),
        (pd.Timestamp("2025-01-25"), datetime.datetime(1900, 1, 1), "2025-01-25 24:00:00"),
        ("2025-01-25", "1899-12-30 08:15:00", "2025-01-25 08:15:00"),
        ("2025-01-25", "noon", "2025-01-25 noon"),
        ("2025-01-25", False, "2025-01-25 False"),
        ("2025-01-25", None, "2025-01-25 (no time of day)"),
        (None, "08:15", "(no date) 08:15:00"),
        (None, np.nan, None),
    ],
)
def test_one_time_of_two_columns(date: Any, clock: Any, text: str | None) -> None:
    both = joined(pd.Series([date], dtype=object), pd.Series([clock], dtype=object))
    assert both.where(both.notna(), None).tolist() == [text]


def test_columns_of_dates_and_of_numbers() -> None:
    dates = pd.Series(pd.DatetimeIndex(["2025-01-25", "2025-01-26"]), index=[7, 9])
    both = joined(dates, pd.Series([0.25, 0.5], index=[7, 9]))
    assert both.to_dict() == {7: "2025-01-25 06:00:00", 9: "2025-01-26 12:00:00"}


@pytest.mark.parametrize(
    ("values", "told"),
    [
        (["08:15", "8:30"], True),
        ([TIME, None], True),
        ([0.25, 0.5], True),
        (["0,25"], True),
        ([datetime.datetime(1899, 12, 30, 8)], True),
        (["2025-01-01 08:15"], False),
        ([datetime.datetime(2025, 1, 1, 8)], False),
        ([17.5, 18.0], False),
        (["soon", "later", "08:15"], False),
        ([], False),
    ],
)
def test_times_of_day_are_told_from_times(values: list[Any], told: bool) -> None:
    assert are_times_of_day(pd.Series(values, dtype=object)) == told
