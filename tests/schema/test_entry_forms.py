"""Tests of `district.schema.entry_forms`."""

from __future__ import annotations

import pandas as pd

from district.schema.entry_forms import (
    ENTRIES,
    ENTRY_FORM,
    ENTRY_RECORDS,
    KNOWN_BEFORE,
    SAID_BEFORE,
    entry_form,
    not_closing,
)
from district.schema.typed import typed


def test_a_blank_form_holds_what_is_known_and_nothing_else() -> None:
    walk = pd.DataFrame({"pipe_id": ["P1", "P2"], "from_m": [0.0, 12.0], "to_m": [40.0, 30.0]})
    form = entry_form(
        "J-7",
        walk=walk,
        method="correlator",
        steps=["V1", "V2"],
        correlations=[("V1", "M1")],
        valves=["V9"],
        repairs=["P1"],
        spare_count=1,
    )
    assert tuple(form.columns) == ENTRY_FORM.names()
    assert set(form["job_id"]) == {"J-7"}
    known = set(form.columns[form.notna().any()])
    assert known == {*KNOWN_BEFORE, "record"} - {"length_m"}
    walked = form[form["record"].isna()]
    assert walked["place_id"].tolist() == ["P1", "P2"]
    assert set(walked["method"]) == {"correlator"}
    steps = form[form["record"] == "step"]
    assert steps["place_id"].isna().tolist() == [True, False, False]
    assert form["record"].value_counts()["repair"] == 2
    assert set(form["record"].dropna()) <= set(SAID_BEFORE) <= set(ENTRY_RECORDS)


def test_only_a_crew_can_say_what_it_found_on_a_walk() -> None:
    assert set(ENTRY_RECORDS) - set(SAID_BEFORE) == {"nothing_found", "leak_found"}


def test_the_latest_row_that_tells_of_closing_counts() -> None:
    rows = [
        ("V1", "does_not_close", "2025-05-01", 2),
        ("V1", "closes", "2025-06-01", 3),
        ("V2", "closes", "2025-06-01", 4),
        ("V2", "not_found", "2025-06-01", 5),  # later on the same sheet
        ("V3", "does_not_close", "2025-05-01", 6),
        ("V3", "found_open", "2025-07-01", 7),  # says nothing of closing
    ]
    table = pd.DataFrame(rows, columns=["place_id", "state", "time", "row"])
    entries = typed(table.assign(record="valve", file="a.csv"), ENTRIES)
    assert sorted(not_closing(entries)["place_id"]) == ["V2", "V3"]
