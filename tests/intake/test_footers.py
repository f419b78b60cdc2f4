from __future__ import annotations

import pandas as pd
import pytest

from district.intake.footers import without_footer


@pytest.mark.parametrize(
    ("below", "kept"),
    [
        ([], 2),
        ([("End of data", None)], 2),
        ([("Total", "5"), ("Exported by logger 7", None)], 2),
        ([("*** 2 rows", None)], 2),
        ([("Summe:", "5,0"), ("Mittelwert", "2,5")], 2),
        ([("soon", "5")], 3),
        ([("soon", None)], 3),
        ([("Total", "2025-01-03")], 3),
        ([("Endwell", "5")], 3),
        ([(None, "5")], 3),
    ],
)
def test_what_stands_below_a_table(below: list[tuple[str | None, str | None]], kept: int) -> None:
    data = [("2025-01-01", "2"), ("2025-01-02", "3")]
    frame = pd.DataFrame([*data, *below], columns=["time", "M1"])
    assert len(without_footer(frame)) == kept


def test_totals_within_a_table_stay() -> None:
    frame = pd.DataFrame({"time": ["Total", "2025-01-01"], "M1": [1, 2]})
    assert without_footer(frame) is frame
