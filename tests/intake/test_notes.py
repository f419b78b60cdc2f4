from __future__ import annotations

from district.errors import Finding
from district.intake.devices import Device
from district.intake.notes import left_out, placed, ran_back

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
    (plain,) = ran_back(DEVICE, 3)
    (stopped,) = ran_back(Device("M7", "pulse", "meter", 1.0, check_valve="V1"), 3)
    assert (plain.severity, stopped.severity) == ("note", "warning")
