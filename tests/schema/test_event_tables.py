"""Tests of `district.schema.event_tables`."""

from __future__ import annotations

from district.schema.event_tables import (
    CAUSE_KINDS,
    EVENT_KINDS,
    EVENT_TABLES,
    EVENTS,
    MORNING,
    MOVED_KINDS,
    TOLD,
)
from district.schema.outputs import OUTPUTS


def test_every_estimate_has_its_limits() -> None:
    for table in (*EVENT_TABLES, EVENTS, MORNING, TOLD):
        names = table.names()
        assert all(f"{n[:-4]}_high" in names for n in names if n.endswith("_low"))


def test_what_was_told_holds_all_that_a_morning_shows() -> None:
    assert set(MORNING.names()) - {"news"} <= set(TOLD.names())


def test_they_are_among_the_results() -> None:
    assert {EVENTS, *EVENT_TABLES} <= set(OUTPUTS)


def test_what_only_moves_water_is_a_cause_like_the_others() -> None:
    assert set(MOVED_KINDS) < set(CAUSE_KINDS) < set(EVENT_KINDS)
