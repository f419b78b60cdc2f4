from __future__ import annotations

from pathlib import Path

import pytest

from district.pipeline import check_folder
from tests.bad_inputs.break_cases import CASES as BREAK_CASES
from tests.bad_inputs.check_cases import CASES, Case
from tests.bad_inputs.field_cases import CASES as FIELD_CASES
from tests.bad_inputs.tank_cases import CASES as TANK_CASES

ALL = (*CASES, *TANK_CASES, *FIELD_CASES, *BREAK_CASES)


def test_the_small_folder_is_only_too_short(small_folder: Path) -> None:
    found = check_folder(small_folder)
    assert {f.severity for f in found} == {"warning"}
    assert [f.expected.partition(",")[0] for f in found] == [
        "at least 14 nights",
        "at least 14 nights",
        "at least 7",
        "at least 7",
    ]


@pytest.mark.parametrize("case", ALL, ids=[c.name for c in ALL])
def test_the_exact_sentence_is_among_the_findings(case: Case, small_folder: Path) -> None:
    case.breaker(small_folder)
    assert case.sentence in [f.sentence() for f in check_folder(small_folder)]


def test_names_of_cases_differ() -> None:
    assert len({c.name for c in ALL}) == len(ALL) >= 20


def test_all_that_is_wrong_with_breaks_is_told_in_one_pass(small_folder: Path) -> None:
    # What stops the reading (errors) and what shows only beside the pipes, in one run.
    wanted = {
        "break told twice",
        "break before the pipe was laid",
        "break by a place beside the pipes",
        "year 182",
        "length below zero",
        "in use and taken out",
    }
    cases = [c for c in BREAK_CASES if c.name in wanted]
    rows = ["2019-02-03,P3,,", "2019-02-03,P3,,", "1983-02-03,P3,,", "2019-02-03,,7.0015,47.0005"]
    for case in cases:
        if not case.sentence.startswith("breaks"):
            # One pipe each, or the last would hide the others.
            case.breaker(small_folder)
    head = "date,pipe_id,longitude_deg,latitude_deg"
    (small_folder / "breaks.csv").write_text("\n".join([head, *rows, ",P3,,"]) + "\n")
    said = [f.sentence() for f in check_folder(small_folder)]
    assert len(cases) == len(wanted)
    assert [c.sentence for c in cases if c.sentence not in said] == []
    assert any(s.startswith("breaks.csv, row 6, column date: got nothing") for s in said)


def test_breaks_with_empty_cells_stop_nothing(small_folder: Path) -> None:
    rows = ["date,pipe_id", "2019-02-03,P3", ",P3", "2018-04-01,", ","]
    (small_folder / "breaks.csv").write_text("\n".join(rows) + "\n")
    found = check_folder(small_folder)
    assert {f.severity for f in found if f.source == "breaks.csv"} == {"warning"}
    assert {f.severity for f in found} == {"warning"}
    # A column that is missing whole is another matter.
    (small_folder / "breaks.csv").write_text("pipe_id\nP3\n")
    found = check_folder(small_folder)
    assert "error" in {f.severity for f in found if f.source == "breaks.csv"}
