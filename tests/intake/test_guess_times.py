from __future__ import annotations

import datetime
from typing import Any

import pandas as pd
import pytest

from district.intake.guess_times import clock_column, clock_of, stamp_of, time_column, time_pair

HOURS = ["00:15", "00:30"]


@pytest.mark.parametrize(
    ("columns", "pair"),
    [
        ({"Date": ["25.01.2025", "26.01.2025"], "Time": HOURS}, ("Date", "Time")),
        ({"Date": ["01/02/2025", "02/02/2025"], "Time": HOURS}, ("Date", "Time")),
        ({"Uhr": HOURS, "Tag": ["2025-01-25 00:00:00"] * 2}, ("Tag", "Uhr")),
        ({"Date": [datetime.date(2025, 1, 25)] * 2, "Time": [0.25, 0.5]}, ("Date", "Time")),
        ({"laid": ["2020-01-01"] * 2, "date": ["2025-01-25"] * 2, "h": HOURS}, ("date", "h")),
        ({"date": ["2025-01-25"] * 2, "flow": [0.25, 0.5]}, None),
        ({"date": ["2025-01-25"] * 2, "flow": ["0.25", "0.5"]}, None),
        ({"time": ["2025-01-25 00:15"] * 2, "other": HOURS}, None),
        ({"Time": HOURS}, None),
    ],
)
def test_dates_and_times_of_day(columns: dict[str, Any], pair: tuple[str, str] | None) -> None:
    assert time_pair(pd.DataFrame(columns)) == pair


def test_one_column_of_times() -> None:
    frame = pd.DataFrame({"laid": ["2020-01-01"] * 2, "time": ["2025-01-01 00:15"] * 2, "h": HOURS})
    assert time_column(frame) == "time"
    assert clock_column(frame) == "h"
    assert time_column(frame[["h"]]) is None


def test_clock_and_stamp() -> None:
    assert clock_of(pd.Series(["2025-01-01T00:00Z"]), "time")[0] == "own"
    assert clock_of(pd.Series(["2025-01-01 00:00"]), "Time (UTC)")[0] == "UTC"
    assert stamp_of("Interval start")[0] == "start"
    assert stamp_of("time") == ("", "")


def test_times_whose_month_the_first_rows_leave_in_doubt() -> None:
    frame = pd.DataFrame({"When": [f"01/02/2025 {h}:00:00 AM" for h in range(1, 12)], "M1": 1.5})
    assert time_column(frame) == "When"
