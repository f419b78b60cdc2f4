"""What crews brought back, among the records it belongs to."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pandas as pd
import pytest

from district.intake.entry_rows import each_form, rows_of, with_entries
from district.results import Inputs
from district.schema.columns import check
from district.schema.entry_forms import ENTRIES
from district.schema.inputs import RECORDS
from district.schema.typed import typed
from district.settings import District, Settings

LONDON = Settings(district=District(timezone="Europe/London"))
REPAIR = {"record": "repair", "time": "2025-07-14T08:30Z", "place_id": "P1", "job_id": "J1"}
ROWS = (
    REPAIR | {"leak_kind": "joint", "cost_currency": 640.0, "note": "clamp"},
    {"record": "nothing_found", "time": "2025-07-13T23:30Z", "place_id": "P2", "from_m": 5.0},
    {"record": "leak_found", "time": "2025-07-14T10:00Z", "place_id": "P1", "from_m": 23.0},
    {"record": "step", "time": "2025-07-15T00:00Z", "job_id": "T1", "flow_l_s": 2.0},
    {"record": "step", "time": "2025-07-15T00:15Z", "job_id": "T1", "flow_l_s": 1.0,
     "place_id": "V1"},
    {"record": "correlation", "time": "2025-07-14T10:00Z", "place_id": "V1", "other_id": "V2",
     "delay_ms": 16.4, "length_m": 75.1},
    {"record": "sighting", "time": "2025-07-14T10:00Z", "longitude_deg": 7.0,
     "latitude_deg": 47.0},
    {"record": "valve", "time": "2025-07-14T10:00Z", "place_id": "V1", "state": "closes"},
)  # fmt: skip


def entries(*rows: dict[str, Any], file: str = "entries/a.csv") -> pd.DataFrame:
    frame = pd.DataFrame(rows).assign(file=file, row=range(2, 2 + len(rows)))
    return typed(frame, ENTRIES)


@pytest.fixture
def inputs(inputs_of: Any) -> Inputs:
    return replace(inputs_of([]), entries=entries(*ROWS))


def test_each_row_goes_where_it_belongs_in_its_declared_form(inputs: Inputs) -> None:
    made = rows_of(inputs.entries, LONDON)
    counts = {name: len(rows) for name, rows in made.items()}
    assert counts == {
        "works": 1, "surveys": 2, "step_tests": 2, "correlations": 1, "sightings": 1,
    }  # fmt: skip
    for table in RECORDS:
        if table.name in made:
            _, findings = check(table, made[table.name], source="x")
            assert findings == (), table.name


def test_a_repair_is_a_work_that_lasts_to_the_end_of_its_local_day(inputs: Inputs) -> None:
    (work,) = rows_of(inputs.entries, LONDON)["works"].to_dict("records")
    assert (work["kind"], work["place_id"], work["note"]) == ("repair", "P1", "job J1, clamp")
    assert work["end"] == pd.Timestamp("2025-07-14 23:00", tz="UTC")


def test_a_survey_is_of_its_local_date_and_a_mark_is_taken_with_some_room(inputs: Inputs) -> None:
    nothing, leak = rows_of(inputs.entries, LONDON)["surveys"].to_dict("records")
    assert nothing["date"] == pd.Timestamp("2025-07-14")  # half past midnight, in summer
    assert (nothing["from_m"], nothing["found"], nothing["method"]) == (5.0, False, "listening")
    assert (leak["from_m"], leak["to_m"], leak["found"]) == (13.0, 33.0, True)


def test_a_step_test_keeps_its_start_without_a_valve(inputs: Inputs) -> None:
    steps = rows_of(inputs.entries, LONDON)["step_tests"]
    assert steps["valve_id"].tolist() == [None, "V1"]
    assert steps["test_id"].tolist() == ["T1", "T1"]


def test_records_take_in_the_rows_and_the_files_are_named(inputs: Inputs) -> None:
    found, findings = with_entries(inputs, LONDON)
    assert findings == ()
    assert len(found.works) == len(inputs.works) + 1
    assert found.files["works"].endswith("entries/a.csv")
    assert len(found.entries) == len(ROWS)
    assert with_entries(replace(inputs, entries=inputs.entries.iloc[:0]), LONDON)[1] == ()


def test_what_a_record_tells_already_is_told_and_not_added(inputs: Inputs) -> None:
    once, _ = with_entries(inputs, LONDON)
    once = replace(once, files={**once.files, "works": "works.csv"})
    again, findings = with_entries(replace(once, entries=entries(ROWS[0])), LONDON)
    assert len(again.works) == len(once.works)
    assert len(again.entries) == 1
    assert [f.sentence() for f in findings] == [
        "entries/a.csv, row 2: got what a row of works.csv tells already, expected each "
        "observation once. Remove one of the two; it counts once."
    ]


def test_each_form_is_handed_on_alone_under_its_own_name(inputs: Inputs) -> None:
    both = pd.concat([inputs.entries, entries(REPAIR, file="entries/b.csv")], ignore_index=True)
    forms = list(each_form(replace(inputs, entries=both), LONDON))
    assert [form.files["works"] for form in forms] == ["entries/a.csv", "entries/b.csv"]
    assert [len(form.works) for form in forms] == [1, 1]
    assert [len(form.surveys) for form in forms] == [2, 0]
