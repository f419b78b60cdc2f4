from __future__ import annotations

import numpy as np
import pandas as pd
import pytest

from district.errors import Finding
from district.intake.beside import needed_columns, value_and_beside

FRAME = pd.DataFrame({"T1": [135.2, 0.0], "T2": [135.1, 135.1], "F": [1.0, 2.0]}, index=[2, 3])


def read(
    needed: tuple[str, ...], names: dict[str, str]
) -> tuple[np.ndarray, np.ndarray, list[str]]:
    findings: list[Finding] = []
    value, rate = value_and_beside(
        needed, names, lambda n: FRAME[names[n]].to_numpy(), FRAME, "a.csv", findings
    )
    return value, rate, [f.sentence() for f in findings]


@pytest.mark.parametrize(
    ("found", "said", "last"),
    [
        ({"value": "v"}, {}, ("value",)),
        ({"value": "v", "up_us": "a", "down_us": "b"}, {}, ("value",)),
        ({"value": "v", "up_us": "a"}, {"up_us": "a"}, ("up_us", "down_us")),
        ({"up_ms": "a"}, {}, ("up_ms", "down_ms")),
        ({}, {}, ("value",)),
    ],
)
def test_what_a_long_file_must_have(
    found: dict[str, str], said: dict[str, str], last: tuple[str, ...]
) -> None:
    assert needed_columns(found, said) == ("device_id", "time", *last)


def test_a_value_with_and_without_a_rate() -> None:
    value, rate, _ = read(("value",), {"value": "F"})
    assert value.tolist() == [1.0, 2.0]
    assert np.isnan(rate).all()
    assert read(("value",), {"value": "F", "rate": "T1"})[1].tolist() == [135.2, 0.0]


def test_travel_times_in_any_unit_and_one_that_cannot_be() -> None:
    by_us = read(("up_us", "down_us"), {"up_us": "T1", "down_us": "T2"})
    by_ns = read(("up_ns", "down_ns"), {"up_ns": "T1", "down_ns": "T2"})
    assert by_ns[0][0] == pytest.approx(1000 * by_us[0][0])
    assert np.isnan(by_us[0]).tolist() == [False, True]
    assert by_us[2] == [
        "a.csv, row 3, column T1: got 0, expected a travel time above zero. Correct the value or "
        "leave it empty; the reading is left out."
    ]
