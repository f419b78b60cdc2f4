from __future__ import annotations

import csv
import io

import openpyxl
import pytest

from district.render.book import heading
from district.render.renewal_tables import (
    SHEETS,
    renewal_frames,
    write_renewal_book,
    write_renewal_tables,
)
from district.schema.outputs import FINDINGS
from district.schema.renewal_tables import RENEWAL, RENEWAL_CAUTION, RENEWAL_PROJECTS
from tests.render.made_renewal import bare, made
from tests.render.spreadsheet import Evaluator

PLAN = made()
ALL = [*RENEWAL, FINDINGS]


def test_every_table_is_there_as_declared_whatever_is_missing():
    for plan in (PLAN, bare()):
        frames = renewal_frames(plan)
        assert list(frames) == [t.name for t in ALL]
        assert all(list(frame.columns) == list(t.names()) for t, frame in frames.values())
    assert set(SHEETS) == {t.name for t in ALL}


def test_a_csv_for_each_that_no_spreadsheet_runs(tmp_path):
    paths = write_renewal_tables(PLAN, tmp_path)
    assert [p.name for p in paths] == [f"{t.name}.csv" for t in ALL]
    rows = list(csv.DictReader(io.StringIO(paths[0].read_text(encoding="utf-8"))))
    assert "'=SUM(A1)" in [r["street"] for r in rows]
    assert len(rows) == len(PLAN.projects)
    assert rows[0]["rank"] == "1"


def test_a_sheet_for_each_with_live_sums_and_what_it_rests_on(tmp_path):
    path = write_renewal_book(PLAN, tmp_path / "a.xlsx")
    book = openpyxl.load_workbook(path)
    assert book.sheetnames == [*SHEETS.values(), "rests on"]
    for table in ALL:
        said = [cell.value for cell in book[SHEETS[table.name]][1]]
        assert said == [heading(c, "EUR") for c in table.columns]
    sheet = book["list"]
    column = RENEWAL_PROJECTS.names().index("cost_currency")
    total = sheet.cell(len(PLAN.projects) + 3, column + 1).coordinate
    assert Evaluator(sheet).cell(total) == pytest.approx(PLAN.projects["cost_currency"].sum())
    rests = [[c.value for c in row] for row in book["rests on"].iter_rows(min_row=2)]
    assert ["Caution", RENEWAL_CAUTION] in rests
    assert ["Budget", "EUR\u00a0900\u00a0000"] in rests
    assert any(what == "Assumption" and "published" in said for what, said in rests)
    assert any(what == "How good the list is" for what, _ in rests)


def test_the_same_bytes_and_an_empty_plan(tmp_path):
    one, other = (write_renewal_book(PLAN, tmp_path / n) for n in ("a.xlsx", "b.xlsx"))
    assert one.read_bytes() == other.read_bytes()
    empty = openpyxl.load_workbook(write_renewal_book(bare(), tmp_path / "c.xlsx"))
    assert empty["list"].max_row == 1
    assert len(write_renewal_tables(bare(), tmp_path)) == len(ALL)
