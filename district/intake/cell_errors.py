"""Cells of a workbook that hold an error, as of a formula that no longer finds what it names."""

from __future__ import annotations

from pathlib import Path
from zipfile import ZipFile

from openpyxl import load_workbook
from openpyxl.cell.cell import TYPE_ERROR

from district.errors import Finding
from district.intake.unreadable import as_unreadable
from district.words import places

_MARK = b't="e"'
_BLOCK = 1 << 20


def cell_errors(path: Path, source: str, *, sheet: str = "") -> list[Finding]:
    """One finding about such cells of a workbook's sheet, all of which are read as empty.

    `source` is what to call the sheet; without `sheet` it is the first. No finding for a file that
    is no XLSX. A workbook without any is not parsed for them. Raises `UnreadableError` for a
    broken file.
    """
    if path.suffix.lower() != ".xlsx":
        return []
    with as_unreadable(path):
        wrong = _errors(path, sheet) if _has_errors(path) else {}
    if not wrong:
        return []
    return [
        Finding(
            "warning",
            source,
            places("cell", wrong),
            got=", ".join(dict.fromkeys(wrong.values())),
            expected="values, or formulas that give one",
            remedy="Mend the formulas; until then these cells count as empty",
        )
    ]


def _has_errors(path: Path) -> bool:
    with ZipFile(path) as parts:
        for name in parts.namelist():
            if name.startswith("xl/worksheets/") and name.endswith(".xml"):
                with parts.open(name) as sheet:
                    tail = b""
                    while block := sheet.read(_BLOCK):
                        if _MARK in tail + block:
                            return True
                        tail = block[-len(_MARK) :]
    return False


def _errors(path: Path, sheet: str) -> dict[str, str]:
    """Cells of the sheet and the error each holds."""
    book = load_workbook(path, read_only=True, data_only=True)
    try:
        cells = (cell for row in (book[sheet] if sheet else book.worksheets[0]) for cell in row)
        wrong = {str(c.coordinate): str(c.value) for c in cells if c.data_type == TYPE_ERROR}
    finally:
        book.close()
    return wrong
