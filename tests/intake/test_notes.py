from __future__ import annotations

import numpy as np
import pytest

from district.errors import Finding
from district.intake.devices import Device
from district.intake.notes import contradicted, fallen, left_out, placed, said_of
from district.intake.tallies import WHATS, Tally

DEVICE = Device("M7", "electromagnetic", "meter", 1.0)


def test_a_note_gets_its_file_and_device_but_keeps_a_file_it_names() -> None:
    notes = [Finding("note", "", got="x"), Finding("warning", "meters.gpkg", column="kind")]
    assert [(f.source, f.place) for f in placed(notes, DEVICE, source="a.csv")] == [
        ("a.csv", "meter M7"),
        ("meters.gpkg", "meter M7"),
    ]


def test_what_is_left_out_agrees_in_number() -> None:
    assert left_out(0, "below zero") == []
    assert [f.sentence() for f in left_out(1, "below zero")] == [
        ": got 1 reading below zero, expected none. Nothing need be done; it is left out."
    ]
    assert left_out(2, "below zero")[0].remedy == "Nothing need be done; they are left out"


def test_a_check_valve_makes_it_a_warning() -> None:
    back = Tally("back", 3)
    (plain,) = said_of(DEVICE, back)
    (stopped,) = said_of(Device("M7", "pulse", "meter", 1.0, check_valve="V1"), back)
    assert (plain.severity, stopped.severity) == ("note", "warning")


def test_misread_readings_are_told_on_the_clock_of_the_district_the_first_of_many() -> None:
    device = Device("M7", "register", "meter", 1.0, timezone="Europe/Vienna")
    time_us = np.arange(6) * 3_600_000_000
    value = np.array([5.0, 0.25, 0.0, 6.0, 1.0, 2.0])
    (tally,) = contradicted(device, time_us, value, np.array([False] + [True] * 2 + [False] * 3))
    (note,) = said_of(device, tally)
    assert note.sentence() == (
        ": got 2 readings that the next ones contradict (0.25 on 1970-01-01 02:00, 0 on "
        "1970-01-01 03:00), expected a register that only rises. Nothing need be done; they are "
        "left out."
    )
    (tally,) = contradicted(device, time_us, value, np.array([False] + [True] * 5))
    (many,) = said_of(device, tally)
    assert many.got.startswith("5 readings")
    assert many.got.endswith("6 on 1970-01-01 04:00 and 2 more)")
    assert contradicted(device, time_us, value, np.zeros(6, dtype=bool)) == []


def test_falls_name_both_values_and_when_the_second_was_read() -> None:
    time_us = np.arange(3) * 3_600_000_000
    value = np.array([5.0, 4.0, 4.5])
    (tally,) = fallen(DEVICE, time_us, value, np.array([True, False]), "below")
    (note,) = said_of(DEVICE, tally)
    assert note.got == "1 reading below the one before (from 5 to 4 by 1970-01-01 01:00)"
    assert fallen(DEVICE, time_us, value, np.zeros(2, dtype=bool), "x") == []


def test_every_kind_of_tally_has_its_words() -> None:
    device = Device("M7", "register", "meter", 1.0, most_column="bore_mm", most_said="283 m³/h")
    for what in WHATS:
        (note,) = said_of(device, Tally(what, 2, ("a",), low=1000.0, high=1234.0, total=4))
        assert "2 readings" in note.got or "50 %" in note.got.replace("\xa0", " ")
    with pytest.raises(ValueError, match="other"):
        said_of(device, Tally("other", 1))


def test_a_level_that_stood_still_is_told() -> None:
    (note,) = said_of(Device("T", "tank_level", "sensor", 1.0), Tally("still", 31))
    assert note.sentence() == (
        ": got 31 readings of a level that stood still for a day or more, expected a level that "
        "moves. Check the sensor, or take it out of the sensors if the tank is not in use; they "
        "are left out."
    )


def test_sound_that_runs_too_slow_is_told_with_its_speed() -> None:
    (note,) = said_of(DEVICE, Tally("unsound", 3, low=1233.2, high=1234.1))
    assert note.got == "3 readings of travel times by which sound would run at 1\xa0230 m/s"
