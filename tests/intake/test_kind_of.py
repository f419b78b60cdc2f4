from __future__ import annotations

from typing import Any

import numpy as np
import pytest

from district.intake.devices import Device
from district.intake.kind_of import moves_of, unlike_its_kind

WAVES = np.round(3 + np.sin(np.arange(60)), 3)
RISING = np.cumsum(WAVES)
COUNTS = np.round(10 * WAVES)


def said(kind: str, values: np.ndarray, **more: Any) -> list[str]:
    found = unlike_its_kind(Device("M", kind, "meter", 1.0, **more), moves_of(values))
    return [f.got for f in found]


@pytest.mark.parametrize(
    ("kind", "values", "got"),
    [
        ("register", WAVES, "values that fall 29 times and rise 30 times"),
        ("electromagnetic", RISING, "values that only ever rise"),
        ("transit_time", RISING, "values that only ever rise"),
        ("pulse", np.cumsum(COUNTS), "counts that only ever rise"),
        ("pulse", WAVES, "pulses with fractions, such as 3.841"),
    ],
)
def test_a_record_of_another_kind_gets_one_warning(kind: str, values: np.ndarray, got: str) -> None:
    if got.startswith("pulses"):
        values = values[1:]
    assert said(kind, values, counts=kind == "pulse") == [got]


def test_records_of_their_kind_get_none() -> None:
    misread = RISING.copy()
    misread[20] = 0
    assert said("register", misread) == []
    assert said("register", WAVES, both_ways=True) == []
    assert said("electromagnetic", WAVES) == []
    assert said("electromagnetic", np.full(60, 2.0)) == []
    assert said("pulse", COUNTS, counts=True) == []
    assert said("pulse", WAVES) == []
    assert said("register", WAVES[:20]) == []


def test_the_moves_of_parts_add_up_to_those_of_the_whole() -> None:
    whole = moves_of(WAVES)
    here = np.arange(60) < 25
    parts = [moves_of(WAVES, here), moves_of(WAVES, ~here)]
    for name in ("readings_count", "moved_count", "falls_count"):
        assert sum(getattr(p, name) for p in parts) == getattr(whole, name)
