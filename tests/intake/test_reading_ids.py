from __future__ import annotations

import pandas as pd
import pytest

from district.intake.reading_ids import (
    device_column,
    headings,
    held,
    numeric_share,
    reading_words,
    speaks_of_readings,
)

KNOWN = frozenset({"M1", "M11", "BM-7", "BM-7 A"})


@pytest.mark.parametrize(
    ("text", "device_id"),
    [
        ("M1", "M1"),
        ("logger_M1_2025", "M1"),
        ("m11 (m3)", "M11"),
        ("BM_7", "BM-7"),
        ("BM-7 A flow", "BM-7 A"),
        ("M1 and M11", ""),
        ("M111", ""),
        ("", ""),
    ],
)
def test_an_id_is_held_whole_or_not_at_all(text: str, device_id: str) -> None:
    assert held(text, KNOWN) == device_id


def test_headings_that_are_ids_come_before_those_that_hold_one() -> None:
    frame = pd.DataFrame(columns=["M1 (m3)", "M1", "note"])
    assert headings(frame, KNOWN) == {"M1": "M1"}


def test_the_device_column_is_told_by_its_values_or_else_its_name() -> None:
    rows = {"n": ["M1", "M1", "M11", "M11"], "Meter": ["x", "x", "y", "y"], "v": [1, 2, 3, 4]}
    assert device_column(pd.DataFrame(rows), KNOWN) == ("n", 1.0)
    assert device_column(pd.DataFrame(rows), frozenset()) == ("Meter", 0.0)
    assert device_column(pd.DataFrame({"v": [1.5, 2.5]}), KNOWN) is None


def test_words_that_may_be_ids() -> None:
    frame = pd.DataFrame(
        {"Meter No": [7, 8, 7, 8], "site": ["a", "a", "b", "b"], "v": [1, 2, 3, 4]}
    )
    said = reading_words(frame, "in/export.csv")
    assert {"7", "8", "a", "b", "export", "v"} <= said
    assert "1" not in said


def test_names_that_speak_of_readings() -> None:
    assert speaks_of_readings("Logger data/x.csv")
    assert not speaks_of_readings("notes/list.csv")


def test_numbers_with_decimal_commas_count() -> None:
    assert numeric_share(pd.Series(["1,5", "2,5", None])) == 1.0
    assert numeric_share(pd.Series(["a", "1"])) == 0.5
    assert numeric_share(pd.Series([], dtype=object)) == 0.0
