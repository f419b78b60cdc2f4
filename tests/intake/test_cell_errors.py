from __future__ import annotations

from pathlib import Path

import pytest
from openpyxl import Workbook

from district.intake.cell_errors import cell_errors
from district.intake.unreadable import UnreadableError


def book(path: Path, *sheets: dict[str, object]) -> Path:
    made = Workbook()
    made.remove(made.active)
    for i, cells in enumerate(sheets):
        sheet = made.create_sheet(f"S{i}")
        for cell, value in cells.items():
            sheet[cell] = value
    made.save(path)
    return path


def test_cells_with_errors_are_told_by_sheet(tmp_path: Path) -> None:
    path = book(tmp_path / "a.xlsx", {"A1": 1.0}, {"B10": "#REF!", "B2": "#DIV/0!", "C2": "#REF!"})
    assert [f.sentence() for f in cell_errors(path, "a.xlsx, sheet S1", sheet="S1")] == [
        "a.xlsx, sheet S1, cells B2, B10 and C2: got #DIV/0!, #REF!, expected values, or "
        "formulas that give one. Mend the formulas; until then these cells count as empty."
    ]
    assert cell_errors(path, "a.xlsx, sheet S0", sheet="S0") == []
    alone = book(tmp_path / "b.xlsx", {"B2": "#N/A"})
    assert [f.source for f in cell_errors(alone, "b.xlsx")] == ["b.xlsx"]


def test_a_sound_book_and_another_kind_of_file_have_none(tmp_path: Path) -> None:
    assert cell_errors(book(tmp_path / "a.xlsx", {"A1": "t", "B1": 'a t="e" b'}), "a") == []
    assert cell_errors(tmp_path / "nowhere.csv", "nowhere.csv") == []


def test_a_file_that_is_no_workbook(tmp_path: Path) -> None:
    (tmp_path / "a.xlsx").write_text("time,value")
    with pytest.raises(UnreadableError):
        cell_errors(tmp_path / "a.xlsx", "a.xlsx")
