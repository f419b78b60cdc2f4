from __future__ import annotations

import math

import numpy as np
import pytest

from district.intake.premises import passed_while_empty, told_empty
from district.intake.spans import HOUR_US

SPAN = (0, 9 * 24 * HOUR_US)


def told(hours: list[float], volumes: list[float]) -> list[tuple[str, str]]:
    time = (np.array(hours) * HOUR_US).astype(np.int64)
    found = told_empty(
        time[:-1],
        time[1:],
        np.array(volumes),
        (SPAN,),
        resolution_m3=0.1,
        error_share=0.02,
        timezone="UTC",
    )
    return [(f.severity, f.got) for f in found]


def passed(hours: list[float], volumes: list[float]) -> tuple[float, float, float, float]:
    time = (np.array(hours) * HOUR_US).astype(np.int64)
    found = passed_while_empty(
        time[:-1], time[1:], np.array(volumes), SPAN, resolution_m3=0.1, error_share=0.02
    )
    assert found is not None
    return found


def test_two_reads_at_the_ends_tell_what_passed() -> None:
    # 12.3 m³ in 216 h = 0.949 L/min, by hand; two readings cut to 0.1 m³ add 0.08 m³, the
    # meter 2 % of 12.3 m³.
    volume, low, high, hours = passed([0, 216], [12.3])
    assert (volume, hours) == (12.3, 216)
    assert high - volume == pytest.approx(volume - low) == pytest.approx(0.326, abs=0.001)
    assert told([0, 216], [12.3]) == [
        (
            "warning",
            "12.3\xa0m³ (12.0 to 12.6) in 9 days while the premises were empty, 1970-01-01 to "
            "1970-01-10: 0.949\xa0L/min (0.924 to 0.974)",
        )
    ]


def test_reads_a_day_before_and_after_leave_room_for_use() -> None:
    # Usual use: 1 m³ a day over 48 h elsewhere; two days outside may have seen three times that.
    volume, low, high, hours = passed([-72, -24, 240, 288], [2.0, 11.0, 2.0])
    assert hours == 216
    assert volume == pytest.approx(11.0 * 216 / 264)
    assert low == pytest.approx(11.0 - 0.3 - 3 * 1.0 * 2, abs=0.01)
    assert high == pytest.approx(11.3, abs=0.01)


def test_nothing_passed_is_a_note() -> None:
    severity, got = told([0, 216], [0.0])[0]
    assert severity == "note"
    assert got.startswith("0.00\xa0m³ (0.00 to 0.08) in 9 days")


@pytest.mark.parametrize("volumes", [[1.0], [math.nan, 1.0]])
def test_without_reads_around_it_there_is_no_figure(volumes: list[float]) -> None:
    hours = [100.0, 150.0] if len(volumes) == 1 else [0.0, 150.0, 216.0]
    assert told(hours, volumes) == [
        (
            "note",
            "no two readings around 1970-01-01 to 1970-01-10, when the premises were empty",
        )
    ]


def test_what_was_not_read_between_is_not_made_up() -> None:
    """Read ten hours after people left and ten before they came back, but not in between."""
    start, end = np.array([-1, 10, 90]) * HOUR_US, np.array([10, 90, 101]) * HOUR_US
    volume = np.array([0.5, np.nan, 0.5])
    limits = {"resolution_m3": 0.001, "error_share": 0.02}
    assert passed_while_empty(start, end, volume, (0, 100 * HOUR_US), **limits) is None
    volume[1] = 4.0
    found = passed_while_empty(start, end, volume, (0, 100 * HOUR_US), **limits)
    assert found is not None
