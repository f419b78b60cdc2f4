"""Devices that fell silent: each by its own usual step, a whole file once."""

from __future__ import annotations

from typing import Any
from zoneinfo import ZoneInfo

import pandas as pd
import pytest

from district.schema.event_tables import WATCHED
from district.schema.stored import DEVICE_QUALITY
from district.watch import latest_reading, silent_devices
from tests.watch.rows import Mornings, events_of, of, places

CLOCK = ZoneInfo("Europe/Vienna")


def quality(*rows: tuple[str, str, float, str]) -> pd.DataFrame:
    """Devices with their last reading (UTC), usual step in hours and file."""
    frame = of(
        DEVICE_QUALITY,
        *(
            {"device_id": d, "step_h": step_h, "source": source, "readings_count": 100}
            for d, _, step_h, source in rows
        ),
    )
    frame["last_utc"] = pd.to_datetime([last for _, last, _, _ in rows], utc=True, format="ISO8601")
    return frame


def silent(found: pd.DataFrame, **blinds: str) -> pd.DataFrame:
    known = places()
    known["blinds"] = [blinds.get(i, "") for i in known["place_id"]]
    return silent_devices(found, known, latest=latest_reading(found), clock=CLOCK)


@pytest.mark.parametrize(
    ("step_h", "last", "told"),
    [
        (0.25, "2031-03-29 07:00", False),  # 47 h: the export of yesterday may come today.
        (0.25, "2031-03-29 05:00", True),
        (24.0, "2031-03-28 07:00", False),  # Three of its own days.
        (24.0, "2031-03-28 05:00", True),
        (2160.0, "2030-09-01 00:00", False),
        (2160.0, "2030-05-01 00:00", True),
    ],
)
def test_a_device_is_silent_after_three_of_its_own_steps(
    step_h: float, last: str, told: bool
) -> None:
    found = quality(("M1", last, step_h, "a.csv"), ("M2", "2031-03-31 06:00", 0.25, "b.csv"))
    assert (len(silent(found)) == 1) is told


def test_a_dead_inlet_names_the_zones_that_are_blind() -> None:
    found = quality(("M1", "2031-03-20 22:30", 1.0, "a.csv"), ("M2", "2031-03-31", 1.0, "a.csv"))
    row = silent(found, M1="Upper and Lower").iloc[0]
    assert row["headline"] == (
        "No reading of building Hall (meter M1) since 2031-03-20: Upper and Lower blind, new leaks "
        "there do not show."
    )
    assert row["reason"].startswith("Its usual interval is 1 hour.")
    assert row["act"]
    assert row["rank"] < silent(found).iloc[0]["rank"]


def test_the_last_day_is_a_local_one() -> None:
    found = quality(("M1", "2031-03-20 23:30", 1.0, "a.csv"), ("M2", "2031-03-31", 1.0, "a.csv"))
    assert silent(found).iloc[0]["start"] == pd.Timestamp("2031-03-21")


def test_the_night_of_a_clock_change_makes_nobody_silent() -> None:
    """Europe/Vienna goes forward on 2031-03-30: an hour of the night is missing everywhere."""
    last = "2031-03-30 00:45"
    found = quality(("M1", last, 0.25, "a.csv"), ("M2", "2031-03-30 01:00", 0.25, "a.csv"))
    assert silent(found).empty


def test_who_is_read_on_foot_is_late_but_asks_for_no_action() -> None:
    found = quality(("M1", "2030-05-01", 2160.0, "a.csv"), ("M2", "2031-03-31", 1.0, "b.csv"))
    row = silent(found).iloc[0]
    assert not row["act"]
    assert "read on foot" in row["reason"]


def test_a_file_that_stopped_is_one_alarm() -> None:
    found = quality(
        ("M1", "2031-03-20", 1.0, "a_*.csv"),
        ("M2", "2031-03-21", 1.0, "a_*.csv"),
        ("W1", "2031-03-31", 1.0, "b.csv"),
    )
    row = silent(found, M2="Lower").iloc[0]
    assert len(silent(found)) == 1
    assert row["headline"] == (
        "No reading in a_*.csv since 2031-03-21: all 2 devices silent; Lower blind, new leaks "
        "there do not show."
    )
    assert "M1 and M2" in row["reason"]


def test_a_dead_logger_is_told_once_and_closed_when_it_reads_again() -> None:
    mornings = Mornings()
    dead = quality(("M1", "2031-03-20", 1.0, "a.csv"), ("M2", "2031-03-31", 1.0, "b.csv"))
    alive = dead.assign(last_utc=pd.Timestamp("2031-03-31", tz="UTC"))
    own_id = "D-M1-2031-03-20"
    assert mornings.news(events_of(), "2031-03-30", silent=silent(dead)) == {own_id: "new"}
    assert mornings.news(events_of(), "2031-03-31", silent=silent(dead)) == {own_id: "standing"}
    closed = mornings.tell(events_of(), "2031-04-01", silent=silent(alive)).iloc[0]
    assert (closed["news"], closed["reason"]) == ("closed", "Readings have come in again.")
    assert mornings.news(events_of(), "2031-04-02", silent=silent(alive)) == {}


def test_no_readings_and_no_devices_are_silent_in_their_own_way() -> None:
    none: Any = of(DEVICE_QUALITY)
    assert latest_reading(none) is None
    assert silent_devices(none, places(), latest=None, clock=CLOCK).empty
    found = quality(("M1", "2031-03-20", 1.0, "a.csv"))
    assert silent_devices(found, of(WATCHED), latest=latest_reading(found), clock=CLOCK).empty
