from __future__ import annotations

from pathlib import Path

import pandas as pd
import pytest

from district.intake.unreadable import NoSheetError, UnreadableError, as_unreadable


@pytest.mark.parametrize(
    ("reason", "said"),
    [
        (OSError("x"), "a file that cannot be read as csv"),
        (KeyError("x"), "a file that cannot be read as csv"),
        (pd.errors.ParserError("in line 7, saw 4"), "more values than headings in row 7"),
        (pd.errors.ParserError("broken"), "more values than headings"),
        (
            pd.errors.ParserError("EOF inside string starting at row 3"),
            "a quotation mark that is opened and never closed",
        ),
        (NoSheetError('no sheet "May"'), 'no sheet "May"'),
    ],
)
def test_reasons_in_a_few_words(reason: Exception, said: str) -> None:
    with pytest.raises(UnreadableError) as raised, as_unreadable(Path("a.CSV")):
        raise reason
    assert str(raised.value) == said


def test_whatever_a_workbook_is_damaged_by_is_told_and_a_slip_of_ours_is_not_hidden() -> None:
    with (
        pytest.raises(UnreadableError, match="cannot be read as xlsx"),
        as_unreadable(Path("a.xlsx")),
    ):
        raise AttributeError("no such part")
    with pytest.raises(AttributeError), as_unreadable(Path("a.csv")):
        raise AttributeError("no such part")


def test_a_file_one_may_not_read() -> None:
    with (
        pytest.raises(UnreadableError, match="a file that you may not read"),
        as_unreadable(Path("a.csv")),
    ):
        raise PermissionError(13, "Permission denied")
