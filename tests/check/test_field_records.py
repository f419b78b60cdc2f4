from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pandas as pd

from district.check.field_records import check_dates, check_field_records
from district.check.wording import EACH
from district.results import Inputs
from district.settings import District, Settings

Change = Callable[..., Inputs]
Says = Callable[..., list[str]]
KINDS = "a valve_id, meter_id, sensor_id or connection_id of the layers"


def correlated(**changes: Any) -> dict[str, Any]:
    usual = {"date": "2025-03-04", "first_id": "V1", "other_id": "V2", "delay_ms": 10.0}
    return {**usual, **changes}


def test_sound_records_give_no_finding(inputs: Inputs, settings: Settings, add: Change) -> None:
    full = add(inputs, "surveys", {"date": "2025-03-04", "pipe_id": "A2", "from_m": 150.0})
    full = add(full, "correlations", correlated(first_id="L1", other_id="C1"), correlated())
    places = ("A2", "C1", "V1", "M1", "L1")
    seen = [{"time": "2025-03-04T10:00Z", "place_id": p} for p in places]
    full = add(full, "sightings", *seen, {"time": "2025-03-04T10:00Z", "longitude_deg": 7.0,
                                          "latitude_deg": 47.0})  # fmt: skip
    assert check_field_records(inputs, settings=settings) == []
    assert check_field_records(full, settings=settings) == []


def test_a_building_is_a_place(
    inputs: Inputs, settings: Settings, add: Change, edit: Change
) -> None:
    built = edit(inputs, "connections", "C1", building_id="B1")
    seen = add(built, "sightings", {"time": "2025-03-04T10:00Z", "place_id": "B1"})
    assert check_field_records(seen, settings=settings) == []


def test_a_survey_of_an_unknown_pipe_and_beyond_a_known_one(
    inputs: Inputs, settings: Settings, add: Change, says: Says
) -> None:
    lengths = inputs.pipes.assign(length_m=200.0)
    rows = [
        {"date": "2025-03-04", "pipe_id": "A22"},
        {"date": "2025-03-05", "pipe_id": "A2", "from_m": 250.0, "to_m": 300.0},
    ]
    full = add(inputs, "surveys", *rows)
    full = type(full)(**{**vars(full), "pipes": lengths})
    assert says(check_field_records(full, settings=settings)) == [
        'warning: surveys.csv, row of 2025-03-04, column pipe_id: got "A22", expected a pipe_id of '
        "pipes.geojson: A2, A3, B2, B3 or T1. Correct the value; until then this survey counts for "
        "no pipe.",
        "warning: surveys.csv, row of 2025-03-05 on A2, column from_m, to_m: got a stretch from "
        "250 m on, expected one within the pipe's 200 m, from its western end. Correct the "
        "stretch, or leave both empty if all of the pipe was searched.",
    ]


def test_a_correlation_that_cannot_be(
    inputs: Inputs, settings: Settings, add: Change, says: Says
) -> None:
    rows = [
        correlated(first_id="HYDRANT"),
        correlated(delay_ms=-120.0, length_m=100.0, wave_speed_m_s=1250.0),
        correlated(delay_ms=400.0, length_m=100.0),
        correlated(other_id="V1"),
    ]
    assert says(check_field_records(add(inputs, "correlations", *rows), settings=settings)) == [
        'warning: correlations.csv, row of 2025-03-04, column first_id: got "HYDRANT", expected '
        f"{KINDS}. Correct the value; until then this correlation is not counted.",
        "warning: correlations.csv, row of 2025-03-04, V1 to V2, column delay_ms: got -120 ms, "
        "expected at most 80 ms, as sound takes over 100 m at 1\xa0200 m/s. Correct the delay, the "
        "length or the speed; until then it is not counted.",
        'warning: correlations.csv, row of 2025-03-04, column other_id: got "V1", where the first '
        "sensor sat too, expected the other end of the stretch. Correct one of the two.",
    ]


def test_many_of_a_kind_end_in_one_sentence(
    inputs: Inputs, settings: Settings, add: Change, says: Says
) -> None:
    rows = [correlated(other_id="V1", date=f"2025-03-{n:02}") for n in range(1, EACH + 4)]
    found = says(check_field_records(add(inputs, "correlations", *rows), settings=settings))
    assert len(found) == EACH + 1
    assert found[-1] == (
        "warning: correlations.csv, column other_id: got 3 more such rows, expected the other end "
        "of the stretch. Correct them."
    )


def test_a_report_of_nowhere_by_the_local_date(inputs: Inputs, add: Change, says: Says) -> None:
    athens = Settings(district=District(timezone="Europe/Athens"))
    rows = [
        {"time": "2025-03-04T22:30Z", "place_id": "Mill Lane"},
        {"time": "2025-03-04T21:30Z", "longitude_deg": 7.0},
    ]
    assert says(check_field_records(add(inputs, "sightings", *rows), settings=athens)) == [
        'warning: sightings.csv, row of 2025-03-05, column place_id: got "Mill Lane", expected an '
        "id of a pipe, connection, building, valve, meter or sensor of the layers. Correct the "
        "value, or give longitude_deg and latitude_deg instead; until then this report counts for "
        "no pipe.",
        "warning: sightings.csv, row of 2025-03-04, column place_id: got nothing in 1 row, "
        "expected a place_id, or longitude_deg and latitude_deg. Say where it was; until then the "
        "report counts for no pipe.",
    ]


def test_a_year_that_is_yet_to_come(
    inputs: Inputs, settings: Settings, add: Change, says: Says
) -> None:
    quality = pd.DataFrame({"last_utc": pd.to_datetime(["2025-03-31T12:00Z"])})
    rows = [{"date": d, "pipe_id": "A2"} for d in ("2025-04-20", "2052-03-04")]
    full = add(inputs, "surveys", *rows)
    assert says(check_dates(full, quality, settings=settings)) == [
        "warning: surveys.csv, row of 2052-03-04, column date: got 2052-03-04, and the last "
        "reading is of 2025-03-31, expected a date no more than a month after it. Correct the "
        "year, or add the readings up to then."
    ]
    assert check_dates(full, quality.iloc[:0], settings=settings) == []
