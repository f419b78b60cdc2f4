from __future__ import annotations

from pathlib import Path

import openpyxl
import pytest

from district.intake.tables_in import tables_in
from district.intake.unreadable import NoSheetError

ROWS = [["time", "M1"], ["2025-01-01 00:00", 1.5], ["2025-01-01 01:00", 2]]


@pytest.mark.parametrize(
    ("text", "separator", "heading_row"),
    [
        ("time;M1\n2025-01-01;1,5\n", ";", 1),
        ("time;A;B\n2025-01-01;1,5;2,5\n", ";", 1),
        ("sep=;\ntime;A;B\n2025-01-01;1,5;2,5\n", ";", 2),
        ("Report, Acme, Upper, 2025\nTime;M1\n2025-01-01;1,5\n2025-01-02;1,5\n", ";", 2),
        ("Logger 7;v2\nTime\tM1\n2025-01-01 00:00\t1,5\n2025-01-02 00:00\t1,5\n", "\t", 2),
        ('"Site ""A"", Upper"\n"Time","Flow, all"\n"2025-01-01","1,234.5"\n', ",", 2),
        ("soon\n", ",", 1),
    ],
)
def test_separators_below_a_title(
    tmp_path: Path, text: str, separator: str, heading_row: int
) -> None:
    path = tmp_path / "a.csv"
    path.write_text(text)
    (shape,) = tables_in(path).shapes
    assert (shape.separator, shape.heading_row) == (separator, heading_row)
    assert shape.encoding == "utf-8-sig"


def book(path: Path, sheets: dict[str, list[list[object]]], hidden: str = "") -> Path:
    written = openpyxl.Workbook()
    written.remove(written.active)
    for name, rows in sheets.items():
        sheet = written.create_sheet(name)
        for row in rows:
            sheet.append(row)
        if name == hidden:
            sheet.sheet_state = "hidden"
    written.save(path)
    return path


def test_sheets_with_a_table_are_told_from_others(tmp_path: Path) -> None:
    sheets = {
        "Notes": [["Read by hand"], ["every Monday"]],
        "January": [["Readings of January"], [], *ROWS],
        "February": ROWS,
        "Empty": [],
        "Old": ROWS,
        "Meters": [["meter_id", "litres"], ["M1", 10], ["M2", 10]],
    }
    path = book(tmp_path / "a.xlsx", sheets, hidden="Old")
    found = tables_in(path)
    assert [(s.sheet, s.heading_row) for s in found.shapes] == [("January", 3), ("February", 1)]
    assert found.passed == ("Notes", "Meters")
    assert [s.sheet for s in tables_in(path, sheet="Old").shapes] == ["Old"]
    with pytest.raises(NoSheetError, match=r'no sheet "May" \(the file has Notes, January, '):
        tables_in(path, sheet="May")


def test_a_book_without_any_table_has_its_first_sheet(tmp_path: Path) -> None:
    path = book(tmp_path / "a.xlsx", {"Empty": [], "Text": [["Nothing to see"]]})
    found = tables_in(path)
    assert [(s.sheet, s.found) for s in found.shapes] == [("Text", False)]
    assert tables_in(book(tmp_path / "b.xlsx", {"Empty": []})).shapes[0].sheet == "Empty"
