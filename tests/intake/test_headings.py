from __future__ import annotations

from district.intake.headings import first_of, named_besides, nameless, repeated, shown


def test_a_repeated_heading_is_told_once() -> None:
    headings = ["time", "MA", "MB", "MA.1", "MA.2"]
    found = repeated(headings, headings, "a.csv")
    assert [f.sentence() for f in found] == [
        "a.csv, column MA: got a second column of that heading, expected each heading only once. "
        "Rename or remove one of them; the first is used."
    ]
    assert repeated(["time"], headings, "a.csv") == []


def test_an_id_that_ends_in_a_number_is_itself() -> None:
    headings = ["time", "MA", "MA.1"]
    assert first_of("MA.1", headings, known={"MA.1"}) == ""
    assert repeated(headings, headings, "a.csv", {"MA", "MA.1"}) == []
    assert first_of("MB.1", headings) == ""


def test_a_column_without_heading() -> None:
    assert [f.sentence() for f in nameless(["time", "Unnamed: 2"], "a.csv")] == [
        "a.csv, column 3 from the left: got values below no heading, expected a meter_id or "
        "sensor_id above them. Write the heading; until then the column is left out."
    ]
    assert [shown(h) for h in ("MA", "Unnamed: 0")] == ["MA", "(no heading)"]


def test_a_device_that_the_settings_take_from_another_column() -> None:
    assert named_besides("MA", "F1", "a.csv", "district.toml").sentence() == (
        "a.csv, column MA: got a second column for MA, besides F1, expected only F1, which "
        "district.toml names for it. Correct columns under [[readings]], or remove this column; "
        "it is left out."
    )
