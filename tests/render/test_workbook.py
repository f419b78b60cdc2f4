from __future__ import annotations

import re
from dataclasses import replace

import openpyxl
import pytest
import xlsxwriter
from xlsxwriter.exceptions import FileCreateError

from district.errors import OutputError
from district.render.book import heading
from district.render.workbook import SHEETS, write_workbook
from district.schema import event_tables, outputs


@pytest.fixture
def path(report, tmp_path):
    return write_workbook(report, tmp_path / "r.xlsx")


def evaluate(sheet, values, cell):
    """A formula of sums, differences and one quotient, worked out from the cells' numbers."""
    text = sheet[cell].value
    if not str(text).startswith("="):
        return text

    def spread(match):
        letter, first, last = match[1], int(match[2]), int(match[3])
        cells = [f"{letter}{n}" for n in range(first, last + 1)]
        return "(" + "+".join(c for c in cells if sheet[c].value is not None) + ")"

    plain = re.sub(r"SUM\(([A-Z]+)(\d+):\1(\d+)\)", spread, text[1:])
    numbers = re.sub(r"[A-Z]+\d+", lambda m: repr(float(evaluate(sheet, values, m[0]))), plain)
    return eval(numbers, {"__builtins__": {}})


def test_sheets_headings_and_panes(path):
    book = openpyxl.load_workbook(path)
    assert book.sheetnames == [*SHEETS.values(), "audit", "assumptions"]
    for table in outputs.OUTPUTS:
        if table.name in SHEETS:
            sheet = book[SHEETS[table.name]]
            said = [cell.value for cell in sheet[1]]
            assert said == [heading(c, "EUR") for c in table.columns]
            assert sheet.freeze_panes is not None
    assert book["zones"]["Q1"].value == "Night leakage, L/s"
    first = [c.value for c in book["which zone first"][1]]
    assert "Value of water, EUR per m³" in first
    assert "Cost of one survey of all mains, EUR" in first
    money = [c.value for c in book["events"][1] if c.value.endswith(", EUR")]
    assert money[:1] == ["Volume at the price of water, EUR"]
    assert len(money) == 3  # With its limits.


def test_every_formula_gives_the_value_it_carries(path):
    live, values = openpyxl.load_workbook(path), openpyxl.load_workbook(path, data_only=True)
    count = 0
    for sheet in live:
        for row in sheet.iter_rows():
            for cell in row:
                if cell.data_type == "f":
                    count += 1
                    told = values[sheet.title][cell.coordinate].value
                    worked = evaluate(sheet, values, cell.coordinate)
                    assert worked == pytest.approx(told, rel=1e-6)
    assert count == 6 + 18


def test_text_never_runs(report, tmp_path):
    zones = report.balance.zones.assign(name=["=1+1", "http://example.org", "+A1"])
    changed = replace(report, balance=replace(report.balance, zones=zones))
    path = write_workbook(changed, tmp_path / "r.xlsx")
    sheet = openpyxl.load_workbook(path)["zones"]
    for row, text in enumerate(zones["name"], 2):
        assert sheet.cell(row, 2).value == text
        assert sheet.cell(row, 2).data_type == "s"
        assert sheet.cell(row, 2).hyperlink is None


def test_dates_and_flags_and_blanks(path):
    book = openpyxl.load_workbook(path)
    events = book["events"]
    columns = {name: n for n, name in enumerate(event_tables.EVENTS.names(), 1)}
    assert events.cell(2, columns["start"]).value.isoformat() == "2031-04-05T00:00:00"
    assert events.cell(2, columns["end"]).value is None
    assert events.cell(2, columns["act"]).value == "yes"
    assert events.cell(4, columns["act"]).value == "no"
    said = [row[1].value for row in book["assumptions"].iter_rows(min_row=2)]
    assert "Household night use is 1.7 L/property/h (±40 %) where no meter tells it." in said


def test_same_bytes_twice(report, path, tmp_path):
    assert write_workbook(report, tmp_path / "again.xlsx").read_bytes() == path.read_bytes()


def test_a_disk_that_fails_is_told(report, tmp_path, monkeypatch):
    def fail(*_):
        raise FileCreateError(OSError(28, "No space left on device"))

    monkeypatch.setattr(xlsxwriter.Workbook, "close", fail)
    with pytest.raises(
        OutputError, match=r"r\.xlsx: cannot be written \(the disk is full or failed"
    ):
        write_workbook(report, tmp_path / "r.xlsx")
    assert list(tmp_path.iterdir()) == []


def test_sheets_of_what_happened_are_filled_and_show_small_figures(path):
    book = openpyxl.load_workbook(path)
    assert "walks" in book.sheetnames
    for sheet in ("event causes", "repair checks", "building meters", "alarm sensors"):
        assert book[sheet].max_row > 2, sheet
    settings = book["shut-off settings"]
    cells = {settings[1][c.column - 1].value: c for c in settings[3]}
    assert cells["Volume that they lost, m³"].number_format == "#,##0.00"
    assert cells["Trips a year when nothing leaks, 1/year"].number_format == "0.00"
    meters = book["building meters"]
    cells = {meters[1][c.column - 1].value: c for c in meters[3]}
    flow = next(c for head, c in cells.items() if head.startswith("Flow that never stops"))
    assert (flow.value, flow.number_format) == (0.08, "0.0000")
    annual = book["annual balance"]
    heads = [c.value for c in annual[1]]
    assert annual[2][heads.index("Volume over the year, m³")].number_format == "#,##0"
