"""Sentences about the loggers, whole."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from district.locate.pressure_likelihood import Change
from district.locate.pressure_words import seen_by_loggers, told_apart

NAMES = ["PL-01", "PL-02", "PL-03"]
SEEN = np.tile([-0.42, 0.0, 0.0], 4)
MADE = np.stack([SEEN, -SEEN])
CHANGE = Change(
    SEEN, 0.03**2 * np.eye(12), np.tile(np.arange(3), 4), np.repeat(np.arange(4), 3), MADE, 0.1,
    np.zeros((2, 12, 0)), np.array([0, 1]), np.array([0, 1]), np.zeros(2),
)  # fmt: skip
EVEN = np.full(2, 0.5)


def test_what_fell_is_named_with_its_limits() -> None:
    assert seen_by_loggers(CHANGE, NAMES, EVEN) == (
        "At the hours of most use, after allowing for the measured flows, PL-01 fell by "
        "0.28\xa0m (0.23 to 0.33), PL-02 rose by 0.14\xa0m (0.09 to 0.19), PL-03 rose by "
        "0.14\xa0m (0.09 to 0.19) against the mean of the loggers."
    )


def test_a_small_leak_that_cannot_be_told_apart_is_said() -> None:
    small = replace(CHANGE, seen_m=0.01 * SEEN, expected_m=0.01 * MADE)
    assert seen_by_loggers(small, NAMES, EVEN) == (
        "At the hours of most use, after allowing for the measured flows, no logger moved clearly "
        "(PL-01, PL-02 and PL-03) against the mean of the loggers; the loggers cannot tell apart "
        "the pipes of this zone for a leak of this size."
    )


def test_a_movement_whose_limit_is_near_nothing_is_not_called_clear() -> None:
    barely = replace(CHANGE, seen_m=0.2 * SEEN)  # PL-01 0.056, its limit 0.048
    assert "no logger moved clearly" in seen_by_loggers(barely, NAMES, EVEN)


def test_distance_grows_with_the_square_of_the_signature() -> None:
    twice = replace(CHANGE, expected_m=2 * MADE)
    assert abs(told_apart(twice, EVEN) / told_apart(CHANGE, EVEN) - 4) < 1e-9
