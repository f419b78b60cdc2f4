from __future__ import annotations

import numpy as np
import pandas as pd
from hypothesis import given
from hypothesis import strategies as st

from district.schema.thirds import (
    DAY_US,
    HEAD_DAYS,
    bins_of,
    counted,
    month_of,
    month_span_us,
    months_of,
    third_start_us,
)


@given(st.integers(0, 50_000 * DAY_US))
def test_a_time_lies_in_its_third_by_the_calendar(time_us: int) -> None:
    """Against pandas' calendar."""
    (one,) = bins_of(np.array([time_us])).tolist()
    third = one // 2
    assert third_start_us(third) <= time_us < third_start_us(third + 1)
    day = pd.Timestamp(time_us, unit="us")
    assert month_of(third) == f"{day:%Y-%m}"
    assert third % 3 == min((day.day - 1) // 10, 2)
    assert one % 2 == (time_us - third_start_us(third) >= HEAD_DAYS * DAY_US)


def test_months_between_instants() -> None:
    first, following = month_span_us("2024-02")
    # February 2024 has 29 days.
    assert (following - first) // DAY_US == 29
    assert months_of(first, following) == ["2024-02", "2024-03"]
    assert months_of(0, -1) == []


def test_an_hour_that_comes_twice_may_count_in_two_bins() -> None:
    early = np.array([DAY_US * HEAD_DAYS - 1, 5])
    late = early + np.array([2, 0])
    marks = np.array([7, 1], dtype=np.uint64)
    device, bins, count, first, last, mark = counted(np.array([0, 0]), early, late, marks)
    assert device.tolist() == [0, 0]
    assert bins.tolist() == [0, 1]
    assert count.tolist() == [2, 1]
    assert (first.tolist(), last.tolist()) == ([5, late[0]], [early[0], late[0]])
    assert mark.tolist() == [8, 7]
    assert len(bins_of(early[:0])) == 0
