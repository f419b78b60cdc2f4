from __future__ import annotations

from pathlib import Path

import pandas as pd
import pytest

from district.intake.records import read_record
from district.schema.inputs import BREAKS, RECORDS, STEP_TESTS, WORKS
from district.settings import District, Layer, Settings

LONDON = Settings(district=District(timezone="Europe/London"))


def instant(text: str) -> pd.Timestamp:
    return pd.Timestamp(text, tz="UTC")


def test_local_times_become_utc(tmp_path: Path) -> None:
    (tmp_path / "works.csv").write_text(
        "start;end;kind;place_id\n"
        "2025-07-01 10:00;2025-07-01 11:00;Fire use;V1\n"
        "01.07.2025 10:00;;repair;12\n"
        "2025-10-25 10:00;;repair;13\n"
    )
    record = read_record(tmp_path, WORKS, LONDON)
    assert record.findings == ()
    assert record.frame["start"].tolist() == [
        instant("2025-07-01 09:00"),
        instant("2025-07-01 09:00"),
        instant("2025-10-25 09:00"),
    ]
    assert record.frame["end"].tolist() == [
        instant("2025-07-01 10:00"),
        instant("2025-07-01 23:00"),
        instant("2025-10-25 23:00"),
    ]
    assert record.frame["kind"].tolist() == ["fire_use", "repair", "repair"]
    assert [(d["column"], d["rows_count"]) for d in record.defaults] == [("end", 2)]


def test_dates_stay_local(tmp_path: Path) -> None:
    (tmp_path / "breaks.csv").write_text("date,pipe_id\n2024-07-01,7\n2024-12-24 23:30,8\n")
    record = read_record(tmp_path, BREAKS, LONDON)
    assert record.frame["date"].tolist() == [pd.Timestamp("2024-07-01"), pd.Timestamp("2024-12-24")]
    assert record.frame["kind"].tolist() == ["main", "main"]


def test_numbers_come_in_their_own_unit_or_the_stated_one(tmp_path: Path) -> None:
    (tmp_path / "step_tests.csv").write_text(
        "test_id;time;valve_id;flow_l_s\nT;2025-07-01 01:00;;9,0\nT;2025-07-01 01:15;V1;1.5 l/s\n"
    )
    stated = {"step_tests": Layer(file="step_tests.csv", units={"flow_l_s": "m3/h"})}
    record = read_record(tmp_path, STEP_TESTS, LONDON.model_copy(update={"records": stated}))
    assert record.frame["flow_l_s"].tolist() == pytest.approx([2.5, 1.5])
    assert {f.severity for f in record.findings} <= {"note"}


@pytest.mark.parametrize("table", RECORDS, ids=str)
def test_without_a_file_there_are_no_rows_and_no_findings(tmp_path: Path, table: object) -> None:
    record = read_record(tmp_path, table, LONDON)  # type: ignore[arg-type]
    assert record.findings == ()
    assert record.frame.empty


def test_all_defects_have_their_row(tmp_path: Path) -> None:
    (tmp_path / "log.csv").write_text(
        "begin,kind,place_id\nsoon,repair,V1\n2025-07-01 10:00,dancing,\n"
    )
    settings = Settings(records={"works": Layer(file="log.csv", columns={"start": "begin"})})
    record = read_record(tmp_path, WORKS, settings)
    assert sorted((f.place, f.column) for f in record.findings) == [
        ("row 2", "start"),
        ("row 3", "kind"),
        ("row 3", "place_id"),
    ]


def test_the_remedy_names_the_section_of_records(tmp_path: Path) -> None:
    (tmp_path / "breaks.csv").write_text("date\n2024-07-01\n")
    (finding,) = read_record(tmp_path, BREAKS, LONDON).findings
    assert "[records.breaks.columns]" in finding.remedy


def test_a_broken_file(tmp_path: Path) -> None:
    (tmp_path / "works.xlsx").write_text("no workbook")
    record = read_record(tmp_path, WORKS, LONDON)
    assert record.frame.empty
    assert [f.got for f in record.findings] == ["a file that cannot be read as xlsx"]


def test_the_sheet_that_has_the_columns_is_read(tmp_path: Path) -> None:
    right = pd.DataFrame({"date": ["2024-07-01"], "pipe_id": ["7"]})
    with pd.ExcelWriter(tmp_path / "breaks.xlsx") as book:
        pd.DataFrame({"date": ["2024-07-01"], "cost": [7]}).to_excel(
            book, sheet_name="Costs", index=False
        )
        right.to_excel(book, sheet_name="Bursts", index=False, startrow=2)
        right.assign(pipe_id="x").to_excel(book, sheet_name="Old", index=False)
    record = read_record(tmp_path, BREAKS, LONDON)
    assert (record.file, record.findings) == ("breaks.xlsx, sheet Bursts", ())
    assert record.frame["pipe_id"].tolist() == ["7"]
    named = {"breaks": Layer(file="breaks.xlsx", sheet="Old")}
    record = read_record(tmp_path, BREAKS, LONDON.model_copy(update={"records": named}))
    assert record.frame["pipe_id"].tolist() == ["x"]
