"""Which setting is advised, and in which words."""

from __future__ import annotations

import pandas as pd
import pytest

from district.detect.shutoff_advice import advice, advised, hours_said, why_none
from tests.detect.shutoff_made import leak

LEAK = leak(0, 240, 0.2)


def curve(*settings: tuple[float, float]) -> pd.DataFrame:
    """False trips a year and cubic metres lost, fewest trips first."""
    rows = [
        {
            "trip_l_s": 0.18,
            "trip_h": 4.0,
            "false_trips_per_year": false,
            "false_trips_per_year_low": 0.0,
            "false_trips_per_year_high": false + 1.84,
            "leaked_with_m3": lost,
            "leaked_with_m3_low": 0.9 * lost,
            "leaked_with_m3_high": 1.1 * lost,
        }
        for false, lost in settings
    ]
    return pd.DataFrame(rows)


@pytest.mark.parametrize(
    ("settings", "accepted", "row"),
    [
        ([(0.0, 20.0), (0.4, 9.0), (0.9, 3.0)], 0.5, 1),
        ([(0.0, 20.0), (0.4, 9.0), (0.9, 3.0)], 0.1, 0),
        ([(0.0, 20.0), (0.4, 9.0), (0.9, 3.0)], 2.0, 2),
        ([(0.5004, 9.0)], 0.5, 0),  # One in two years, less some hours without a reading.
        ([(0.51, 9.0)], 0.5, None),
        ([(0.0, 51.0)], 0.5, None),  # It would have saved too little.
        ([(0.0, 50.0)], 0.5, 0),
    ],
)
def test_least_water_lost_within_the_false_trips_accepted(
    settings: list[tuple[float, float]], accepted: float, row: int | None
) -> None:
    assert advised(curve(*settings), leaked_m3=100.0, false_trips_per_year=accepted) == row


def test_the_advice_states_what_it_rests_on() -> None:
    words = advice(curve((0.0, 2.88)).loc[0], [LEAK], (172.8, 155.5, 190.1), step_h=1.0).replace(
        "\u00a0", " "
    )
    assert words == (
        "Trip when more than 0.18 L/s runs for 4 h without a break. 1 past leak lost 173 m³ (156 "
        "to 190), and would have lost 2.88 m³ (2.59 to 3.17) with it. False trips: 0 a year, at "
        "most 1.8 by this history. A burst of 1 L/s would lose 14 m³ before it trips. Readings "
        "every 1 h cannot speak of times under 2 h."
    )


def test_assumed_leaks_are_called_so() -> None:
    chosen = curve((0.0, 18.0)).loc[0]
    none = advice(chosen, [], (288.0, 288.0, 288.0), step_h=0.25)
    assert "No leak is on record; a burst hose of 0.25 L/s and a burst riser of 1 L/s" in none
    assert "cannot speak of times under 30 min" in none
    small = advice(chosen, [], (288.0, 288.0, 288.0), step_h=0.25, too_small_count=2)
    assert "Nothing would have caught 2 past leaks without too many false trips" in small


def test_why_none_is_advised() -> None:
    assert "nothing passed this meter" in why_none(curve(), 0.0, false_trips_per_year=0.5)
    often = why_none(curve((3.2, 9.0)), 100.0, false_trips_per_year=0.5)
    assert "at the least 3.2 times a year where 0.5 are accepted" in often
    little = why_none(curve((0.0, 97.0)), 100.0, false_trips_per_year=0.5)
    assert "it would have saved 3 of 100 m³, too little" in little


def test_times_in_words() -> None:
    assert [hours_said(h) for h in (1 / 6, 0.75, 1.0, 36.0)] == ["10 min", "45 min", "1 h", "36 h"]
