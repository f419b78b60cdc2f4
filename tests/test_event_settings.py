"""Settings of events, and what they refuse."""

from __future__ import annotations

from datetime import date, time

import pytest
from pydantic import ValidationError

from district.event_settings import EmptyHours, Events, Holiday, ShutOff


def test_a_holiday_does_not_end_before_it_begins() -> None:
    with pytest.raises(ValidationError, match="a last day from 2025-12-24 on"):
        Holiday(first=date(2025, 12, 24), last=date(2025, 12, 20))


def test_empty_hours_are_those_of_every_day_unless_said() -> None:
    assert len(EmptyHours(places=("B1",), start=time(23), end=time(5)).weekdays) == 7
    with pytest.raises(ValidationError):
        EmptyHours(places=("B1",), weekdays=("monday",), start=time(23), end=time(5))


def test_rates_are_above_zero() -> None:
    with pytest.raises(ValidationError):
        Events(false_alarms_per_year=0)
    with pytest.raises(ValidationError):
        ShutOff(false_trips_per_year=0)
