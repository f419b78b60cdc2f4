from __future__ import annotations

import numpy as np
import pytest

from district.intake.values_shape import PULSES, RATE, REGISTER, WET, shape_of, suits


@pytest.mark.parametrize(
    ("values", "shape"),
    [
        ([100, 101, 101, 104, 110, 111], REGISTER),
        ([10.2, 10.4, np.nan, 10.4, 11.0, 12.0, 12.5], REGISTER),
        ([3, 0, 7, 7, 2, 4], PULSES),
        ([3.1, 0.2, 7.7, 7.7, 2.5, 4.0], RATE),
        ([0, 0, 1, 0, 1, 1], WET),
        ([5, 5, 5, 5, 5, 5], ""),
        ([1, 2], ""),
        ([], ""),
    ],
)
def test_shapes(values: list[float], shape: str) -> None:
    assert shape_of(np.array(values, dtype=float)) == shape


def test_a_register_may_roll_over_once() -> None:
    values = np.arange(200.0) + 99900
    values[150:] -= 100000
    assert shape_of(values) == REGISTER


def test_what_a_kind_can_show() -> None:
    assert suits(REGISTER, "register")
    assert suits(REGISTER, "")
    assert not suits(RATE, "register")
    assert not suits(PULSES, "")
    assert not suits(REGISTER, "electromagnetic")
    assert suits(RATE, "electromagnetic")
    assert suits("", "register")
    assert suits(WET, "register")
