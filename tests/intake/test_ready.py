from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import pandas as pd
import pytest

from district.errors import Finding
from district.intake.ready import Ready, ready
from district.intake.table_shape import Shape
from district.intake.writing import Writing
from district.settings import Readings

IDS = ("M1", "M2")


def make(
    content: dict[str, Any],
    layout: str = "long",
    *,
    columns: Mapping[str, str] | None = None,
    units: Mapping[str, str] | None = None,
    writing: Writing | None = None,
) -> tuple[Ready | None, list[Finding]]:
    frame = pd.DataFrame(content, index=[5])
    before = frame.copy()
    findings: list[Finding] = []
    made = ready(
        frame,
        Readings(files="a.csv", layout=layout, columns=dict(columns or {})),  # type: ignore[arg-type]
        shape=Shape(units=dict(units or {})),
        writing=writing or Writing(),
        ids=IDS,
        source="a.csv",
        findings=findings,
    )
    pd.testing.assert_frame_equal(frame, before)
    return made, findings


PAIR = {"Date": ["25.01.2025"], "Time": ["8:15"]}


@pytest.mark.parametrize(
    ("content", "columns", "name"),
    [
        ({**PAIR, "M1": [1]}, {}, "Date and Time"),
        ({"Datum": ["25.01.2025"], "Uhr": ["8:15"]}, {"date": "Datum", "time_of_day": "Uhr"}, ""),
        ({"Datum": ["25.01.2025"], "Time": ["8:15"]}, {"date": "Datum"}, "Datum and Time"),
        ({"Date": ["25.01.2025"], "Uhr": ["8:15"]}, {"time_of_day": "Uhr"}, "Date and Uhr"),
    ],
)
def test_two_columns_become_one(
    content: dict[str, Any], columns: dict[str, str], name: str
) -> None:
    made, told = make(content, "wide", columns=columns)
    assert told == []
    assert made is not None
    name = name or "Datum and Uhr"
    assert made.frame.loc[5, name] == "25.01.2025 08:15:00"
    assert made.kind.columns == {"time": name}
    assert not set(content) - {"M1"} & set(made.frame.columns)


def test_a_column_of_whole_times_stays() -> None:
    made, _ = make({"date": ["2025-01-01"], "time": ["2025-01-01 08:15"], "value": [1]})
    assert made is not None
    assert list(made.frame.columns) == ["date", "time", "value"]
    made, _ = make({**PAIR, "T": ["2025-01-01 08:15"]}, columns={"time": "T"})
    assert made is not None
    assert "Time" in made.frame.columns


def test_what_was_found_of_the_whole_file_follows_its_columns() -> None:
    writing = Writing({"M1 (m3)": True}, {"Date": 2})
    made, _ = make({**PAIR, "M1 (m3)": ["1"]}, "wide", writing=writing)
    assert made is not None
    assert made.writing == Writing({"M1": True}, {"Date and Time": 2})


@pytest.mark.parametrize(
    ("columns", "said"),
    [
        (
            {"date": "Tag", "time_of_day": "Time"},
            "a.csv, column Tag: got no such column (the file has Date, Time), expected the column "
            "named as date in district.toml. Correct it in columns under [[readings]].",
        ),
        (
            {"time": "Time", "date": "Date"},
            "district.toml, readings.columns of a.csv: got a column of times and one of dates, "
            "expected either time, or date and time_of_day. Remove the one that is not so.",
        ),
    ],
)
def test_columns_that_are_not_there(columns: dict[str, str], said: str) -> None:
    made, (finding,) = make(PAIR, columns=columns)
    assert made is None
    assert finding.sentence() == said


@pytest.mark.parametrize(
    ("content", "ours", "other"),
    [
        ({"Date": [1], "Flow": [1]}, {"date": "Date"}, "time_of_day"),
        ({"time_of_day": ["8:15"], "Flow": [1]}, {"time_of_day": "time_of_day"}, "date"),
    ],
)
def test_one_of_two_columns_lacks(
    content: dict[str, Any], ours: dict[str, str], other: str
) -> None:
    made, (finding,) = make(content, columns=ours)
    assert made is None
    assert finding.remedy == f"Name yours as {other} in columns under [[readings]] in district.toml"


@pytest.mark.parametrize(
    ("layout", "headings", "columns", "bare", "units"),
    [
        ("long", ["time", "Value (m3/h)"], {}, ["time", "Value"], {"": "m3/h"}),
        ("long", ["time", "Flow (m3/h)"], {"value": "Flow"}, ["time", "Flow"], {"": "m3/h"}),
        (
            "long",
            ["time", "Flow (m3/h)"],
            {"value": "Flow (m3/h)"},
            ["time", "Flow (m3/h)"],
            {"": "m3/h"},
        ),
        (
            "wide",
            ["time", "M1 [l/s]", "M9 [l/s]"],
            {},
            ["time", "M1", "M9 [l/s]"],
            {"M1": "l/s"},
        ),
        ("wide", ["time", "Keller (m3)"], {"M2": "Keller"}, ["time", "Keller"], {"M2": "m3"}),
        ("wide", ["time", "M1", "M1 (m3)"], {}, ["time", "M1", "M1 (m3)"], {}),
    ],
)
def test_headings_lose_their_unit(
    layout: str,
    headings: list[str],
    columns: dict[str, str],
    bare: list[str],
    units: dict[str, str],
) -> None:
    made, told = make({h: ["1"] for h in headings}, layout, columns=columns)
    assert told == []
    assert made is not None
    assert list(made.frame.columns) == bare
    assert {device: unit for _, device, unit, _ in made.units} == units


def test_the_units_of_a_row_of_units() -> None:
    made, _ = make({"time": ["x"], "M1": [1], "M2": [1]}, "wide", units={"M2": "l/s"})
    assert made is not None
    assert made.units == (("value", "M2", "l/s", "M2"),)
    made, _ = make({"time": ["x"], "value": [1]}, units={"value": "bar"})
    assert made is not None
    assert made.units == (("value", "", "bar", "value"),)
    made, _ = make({"time": ["x"], "value": [1], "rate (l/s)": [1]})
    assert made is not None
    assert made.units == (("rate", "", "l/s", "rate (l/s)"),)


@pytest.mark.parametrize("columns", [{}, {"up_us": "T1", "down_us": "T2"}])
def test_a_flow_beside_travel_times_tells_no_unit_of_theirs(columns: dict[str, str]) -> None:
    """Their difference is kept in 1/s, whatever the flow is in that stands beside them."""
    up, down = columns.values() or ("up_us", "down_us")
    content = {"device_id": ["M1"], "time": ["2025-01-01"], up: [211.0], down: [209.0]}
    beside = {"Rate [l/s]": [1.5]} | ({"Value [m3/h]": [5.4]} if columns else {})
    made, told = make(content | beside, columns=columns)
    assert told == []
    assert made is not None
    assert made.units == ()
