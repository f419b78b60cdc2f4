from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import Any

import openpyxl
import pandas as pd
import pytest

from district.render import audit_sheet
from district.render.audit_sheet import MOST_PLACES, NAME, TITLES
from district.render.workbook import write_workbook
from district.schema import empty
from district.schema.audited import AUDIT
from tests.render.audit_table import hand_audit
from tests.render.spreadsheet import Evaluator


def written(report: Any, audit: pd.DataFrame, path: Path) -> Path:
    balance = replace(report.balance, audit=audit)
    return write_workbook(replace(report, balance=balance), path)


@pytest.fixture
def path(report: Any, tmp_path: Path) -> Path:
    return written(report, hand_audit(), tmp_path / "r.xlsx")


def test_every_formula_gives_the_value_it_carries(path: Path) -> None:
    live = openpyxl.load_workbook(path)[NAME]
    kept = openpyxl.load_workbook(path, data_only=True)[NAME]
    evaluator, count = Evaluator(live), 0
    for row in live.iter_rows():
        for cell in row:
            if cell.data_type == "f":
                count += 1
                told = kept[cell.coordinate].value
                assert evaluator.cell(cell.coordinate) == pytest.approx(told, rel=1e-9)
    assert count == 46


def test_a_changed_input_moves_the_figures(path: Path) -> None:
    sheet = openpyxl.load_workbook(path)[NAME]
    # F4 is the meter's 5.0 L/s, G4 and H4 its limits; F8 the daily leakage.
    better = Evaluator(sheet, {"F4": 6.0, "G4": 6.0, "H4": 6.0})
    assert better.cell("F3") == pytest.approx(4.0)
    assert better.cell("F8") == pytest.approx(4.0 * 20 * 3.6)
    assert better.cell("G3") == pytest.approx(4.0 - 0.4)
    assert better.cell("L4") == 0.0
    assert better.cell("L5") == pytest.approx(1.0)
    assert better.cell("F15") == pytest.approx(4.0 * 72 / 60)


def test_headings_and_panes(path: Path) -> None:
    sheet = openpyxl.load_workbook(path)[NAME]
    assert [c.value for c in sheet[2]] == [title for title, _ in TITLES]
    assert sheet.freeze_panes == "D3"
    assert sheet["A1"].value.startswith("Each figure (bold) is its + rows")
    assert sheet["A3"].font.bold
    assert not sheet["A4"].font.bold
    assert [sheet.cell(3, n).value for n in (1, 2, 5)] == ["Z1", "night leakage", "="]


def test_text_never_runs(report: Any, tmp_path: Path) -> None:
    audit = hand_audit(place="=1+1", name="http://example.org")
    sheet = openpyxl.load_workbook(written(report, audit, tmp_path / "r.xlsx"))[NAME]
    for cell, text in (("A3", "=1+1"), ("C4", "http://example.org"), ("E3", "="), ("E4", "+")):
        assert sheet[cell].value == text
        assert sheet[cell].data_type == "s"
        assert sheet[cell].hyperlink is None


def test_many_places_stand_in_the_table_alone(
    report: Any, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(audit_sheet, "MOST_PLACES", 2)
    audit = pd.concat([hand_audit(f"Z{n}") for n in range(5)], ignore_index=True)
    sheet = openpyxl.load_workbook(written(report, audit, tmp_path / "r.xlsx"))[NAME]
    assert {c.value for c in sheet["A"][2:]} == {"Z0", "Z1"}
    assert sheet["A1"].value.endswith("3 further places stand in tables/audit.csv.")
    assert MOST_PLACES > 2


def test_no_audit_is_an_empty_sheet_with_its_headings(report: Any, tmp_path: Path) -> None:
    sheet = openpyxl.load_workbook(written(report, empty(AUDIT), tmp_path / "r.xlsx"))[NAME]
    assert sheet.max_row == 2
