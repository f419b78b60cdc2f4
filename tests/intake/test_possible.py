from __future__ import annotations

import math

import numpy as np
import pytest

from district.intake.possible import backward, beyond, most_through_m3_h


def test_ten_metres_a_second_through_a_bore() -> None:
    # π/4 · 0.05² m² · 10 m/s · 3600 s/h, by hand.
    assert most_through_m3_h(0.05) == pytest.approx(70.7, abs=0.05)


def test_a_step_of_the_meter_is_granted() -> None:
    volume, span = np.array([3.0, 4.0, 4.1, -9.0, math.nan]), np.ones(5)
    over = beyond(volume, span, most_m3_h=3.0, step_m3=1.0)
    assert over.tolist() == [False, False, True, True, False]
    assert not beyond(volume, span, most_m3_h=math.nan, step_m3=1.0).any()


def test_a_wavering_zero_is_not_backward() -> None:
    rate = np.array([5.0, 0.0, -0.02, 5.0, -1.0, 4.0])
    assert backward(rate, step=0.01).tolist() == [False] * 4 + [True, False]
    assert backward(rate, step=2.0).tolist() == [False] * 6


def test_a_record_with_the_wrong_sign_is_left_alone() -> None:
    assert not backward(-np.arange(1.0, 9.0), step=math.nan).any()
