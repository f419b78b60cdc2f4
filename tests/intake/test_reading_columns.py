from __future__ import annotations

import pandas as pd

from district.errors import Finding
from district.intake.reading_columns import lacking, named_columns, no_column
from district.settings import Readings

FRAME = pd.DataFrame(columns=["TIME", "Keller", "Value"])
WANTED = ("time", "value")


def test_columns_by_settings_and_by_any_capitals() -> None:
    findings: list[Finding] = []
    kind = Readings(files="a.csv", columns={"value": "Keller"})
    names = named_columns(FRAME, kind, WANTED, "a.csv", findings)
    assert names == {"time": "TIME", "value": "Keller"}
    assert findings == []


def test_what_the_settings_name_wrongly() -> None:
    findings: list[Finding] = []
    kind = Readings(files="a.csv", columns={"value": "Cellar", "flow": "Value"})
    assert named_columns(FRAME, kind, WANTED, "a.csv", findings) == {"time": "TIME"}
    assert [f.sentence() for f in findings] == [
        "a.csv, column Cellar: got no such column (the file has TIME, Keller, Value), expected the "
        "column named as value in district.toml. Correct it in columns under [[readings]].",
        'district.toml, readings.columns of a.csv: got "flow", expected one of time, value. '
        "Correct the name.",
    ]


def test_what_a_file_lacks() -> None:
    assert no_column("value", FRAME, "a.csv").got == lacking(FRAME)
    assert lacking(FRAME) == "no such column (the file has TIME, Keller, Value)"
