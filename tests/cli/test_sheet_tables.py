"""Jobs as they are printed."""

from __future__ import annotations

import json
from pathlib import Path

from district.cli.layout import WIDTH
from district.cli.machine import pieces
from district.cli.sheet_tables import job_table, print_sheets, sheets_object
from tests.render.sheets import job


def test_a_row_a_job_and_where_the_sheets_are(capsys) -> None:  # type: ignore[no-untyped-def]
    jobs = [job(2), job(1, name="b", indoors=True)]
    print_sheets(jobs, [Path("maps/jobs/a.html")])
    said = capsys.readouterr().out
    assert "2 sheets and as many forms stand in maps/jobs" in said
    assert "Upper row" in said
    assert all(len(line) <= WIDTH for line in said.splitlines())
    assert job_table(jobs).row_count == 2


def test_all_of_it_for_machines() -> None:
    told = json.loads("".join(pieces(sheets_object([job(2)], [Path("a.html")]))))
    assert told["files"] == ["a.html"]
    assert [leg["job_id"] for leg in told["legs"]] == [told["jobs"][0]["job_id"]] * 2
    assert "geometry" not in told["legs"][0]
