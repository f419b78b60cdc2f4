from __future__ import annotations

from datetime import date

import openpyxl
import pandas as pd
import pytest

from district.errors import OutputError
from district.render.book import Style, fill_sheet, heading, live_sums, said_sheet, whole_book
from district.schema.columns import Column, Table
from tests.render.spreadsheet import Evaluator

TABLE = Table(
    "things",
    "things",
    (
        Column("name", "text", "name"),
        Column("expected_count", "real", "expected"),
        Column("breaks_count", "whole", "seen"),
        Column("cost_currency", "real", "cost"),
    ),
    key=("name",),
)
ROWS = pd.DataFrame(
    {
        "name": ["=1+1", "b"],
        "expected_count": [0.7, 1.25],
        "breaks_count": [1.0, 2.0],
        "cost_currency": [10.0, None],
    }
)


def written(path):
    with whole_book(path, title="A <b>", last=date(2025, 6, 30)) as book:
        style = Style(book, "EUR")
        page = book.add_worksheet("things")
        fill_sheet(page, TABLE, ROWS, style)
        live_sums(page, TABLE, ROWS, style, beside="name", summed=("cost_currency",), noun="things")
        said_sheet(book.add_worksheet("said"), [("What", "it is")], style)
    return path


def test_text_stays_text_and_expected_counts_keep_a_decimal(tmp_path):
    sheet = openpyxl.load_workbook(written(tmp_path / "a.xlsx"))["things"]
    assert [c.value for c in sheet[1]] == [heading(c, "EUR") for c in TABLE.columns]
    assert (sheet["A2"].value, sheet["A2"].data_type) == ("=1+1", "s")
    assert sheet["B2"].number_format == "0.0"
    assert sheet["C2"].number_format == "0"
    assert sheet["D3"].value is None
    assert sheet.freeze_panes == "B2"


def test_the_sum_is_live_and_says_what_it_is_of(tmp_path):
    book = openpyxl.load_workbook(written(tmp_path / "a.xlsx"))
    sheet = book["things"]
    assert sheet["A5"].value == "All things (limits added up, which is cautious)"
    assert Evaluator(sheet, {"D2": 4.0, "D3": 5.0}).cell("D5") == 9.0
    assert [c.value for c in book["said"][2]] == ["What", "it is"]


def test_the_same_bytes_and_nothing_half_written(tmp_path):
    one, other = (written(tmp_path / name) for name in ("a.xlsx", "b.xlsx"))
    assert one.read_bytes() == other.read_bytes()
    (tmp_path / "file").write_text("in the way")
    with pytest.raises(OutputError):
        written(tmp_path / "file" / "c.xlsx")
