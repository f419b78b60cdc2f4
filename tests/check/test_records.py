from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pandas as pd

from district.check.records import check_records
from district.check.wording import EACH
from district.results import Inputs
from district.settings import District, Settings

Change = Callable[..., Inputs]
Says = Callable[..., list[str]]


def test_clean_records_give_no_finding(inputs: Inputs, settings: Settings) -> None:
    assert check_records(inputs, settings=settings) == []


def test_works_may_name_zones_pipes_meters_and_valves(
    inputs: Inputs, settings: Settings, add: Change
) -> None:
    rows = [
        {"start": "2025-05-01", "kind": "repair", "place_id": p} for p in ("MILL", "A2", "M1", "V1")
    ]
    assert check_records(add(inputs, "works", *rows), settings=settings) == []


def test_work_at_an_unknown_place(
    inputs: Inputs, settings: Settings, add: Change, says: Says
) -> None:
    rows = [{"start": f"2025-05-0{n}", "kind": "flushing", "place_id": "HYDRANT 7"} for n in (2, 1)]
    assert says(check_records(add(inputs, "works", *rows), settings=settings)) == [
        "warning: works.csv, rows of 2025-05-01 and of 2025-05-02, column place_id: got "
        '"HYDRANT 7", expected a zone_id, pipe_id, meter_id, valve_id or connection_id of the '
        "layers. Correct the value; until then this work explains no change of flow."
    ]


def test_work_that_ends_before_it_starts_in_local_time(
    inputs: Inputs, settings: Settings, edit: Change, says: Says
) -> None:
    broken = edit(inputs, "works", "", end=pd.Timestamp("2025-03-03T23:30:00Z"))
    clock = settings.model_copy(update={"district": District(timezone="Europe/Athens")})
    assert says(check_records(broken, settings=clock)) == [
        "warning: works.csv, row of 2025-03-04 at A2, column end: got 2025-03-04 01:30, before "
        "its start 2025-03-04 11:00, expected a time after the start. Correct one of the two, or "
        "leave the end empty for a work of one day."
    ]


def test_many_backward_works_end_in_one_sentence(
    inputs: Inputs, settings: Settings, add: Change, says: Says
) -> None:
    rows: list[dict[str, Any]] = [
        {"start": f"2025-05-{n:02}", "end": "2025-01-01", "kind": "repair", "place_id": "A2"}
        for n in range(1, 21)
    ]
    found = says(check_records(add(inputs, "works", *rows), settings=settings))
    assert len(found) == EACH + 1
    assert found[-1] == (
        "warning: works.csv, column end: got 8 more ends before their start, expected a time "
        "after the start. Correct them."
    )


def test_break_on_an_unknown_pipe(
    inputs: Inputs, settings: Settings, edit: Change, says: Says
) -> None:
    broken = edit(inputs, "breaks", "", pipe_id="A22")
    assert says(check_records(broken, settings=settings)) == [
        'warning: breaks.csv, row of 2024-11-02, column pipe_id: got "A22", expected a pipe_id of '
        "pipes.geojson: A2, A3, B2, B3 or T1. Correct the value; until then this break counts for "
        "no pipe."
    ]


def test_a_meter_change_and_empty_premises_name_a_meter(
    inputs: Inputs, settings: Settings, add: Change, says: Says
) -> None:
    rows = [
        {"start": "2025-05-01", "kind": kind, "place_id": place}
        for kind, place in (("meter_change", "M1"), ("meter_change", "A2"), ("empty", "MILL"))
    ]
    assert says(check_records(add(inputs, "works", *rows), settings=settings)) == [
        f'warning: works.csv, row of 2025-05-01, column place_id: got "{place}", expected a '
        "meter_id of meters.geojson, as the work is meter_change or empty: K1, M1 or M2. Name the "
        "meter; until then its readings are taken as they stand."
        for place in ("A2", "MILL")
    ]
