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
        (NoSheetError('no sheet "May"'), 'no sheet "May"'),
    ],
)
def test_reasons_in_a_few_words(reason: Exception, said: str) -> None:
    with pytest.raises(UnreadableError) as raised, as_unreadable(Path("a.CSV")):
        raise reason
    assert str(raised.value) == said
