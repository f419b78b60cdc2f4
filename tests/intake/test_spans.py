from __future__ import annotations

import numpy as np

from district.intake.devices import Device
from district.intake.spans import (
    HOUR_US,
    own_span,
    shown_in,
    standing,
    standing_by_third,
    window_of,
)
from district.schema.thirds import DAY_US

THIRD = 3 * 12 * 55 + 4
"""11 to 20 February 2025."""
START_US = own_span(THIRD).from_us
METER = Device("M", "register", "meter", 1.0)


def test_a_third_is_judged_by_two_before_and_the_first_days_after() -> None:
    own, window = own_span(THIRD), window_of(THIRD)
    assert (own.to_us - own.from_us) // DAY_US == 10
    # 21 January is 21 days before 11 February, 23 February two days into the next third.
    assert (own.from_us - window.from_us) // DAY_US == 21
    assert (window.to_us - own.to_us) // DAY_US == 2


def hours(first: int, count: int) -> np.ndarray:
    return START_US + HOUR_US * (first + np.arange(count))


def test_a_third_takes_up_where_the_one_before_ends() -> None:
    """A reading just before the third is misread: both parts must leave it out."""
    time_us = hours(-100, 200)
    value = 1000.0 + np.arange(200)
    value[99] = 3.0
    stands = standing_by_third(METER, time_us, value, THIRD)
    before = standing_by_third(METER, time_us, value, THIRD - 1)
    assert not stands[99]
    assert not before[99]
    assert stands[98]
    assert before[98]


def test_the_last_reading_before_a_long_silence_is_shown() -> None:
    time_us = np.concatenate([hours(-24 * 90, 30), hours(0, 20)])
    value = np.arange(50.0)
    shown, stands = shown_in(METER, time_us, value, THIRD)
    assert np.flatnonzero(shown).tolist() == [29, *range(30, 50)]
    assert stands[shown].all()


def test_what_never_falls_stands() -> None:
    time_us = hours(0, 10)
    assert standing(METER, time_us, np.arange(10.0)).all()
    both_ways = Device("T", "register", "meter", 1.0, both_ways=True)
    assert standing(both_ways, time_us, np.arange(10.0)[::-1]).all()
    assert not standing(METER, time_us, np.array([5, 6, 0, 7, 8, 9, 10, 11, 12, 13.0]))[2]
