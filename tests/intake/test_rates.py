from __future__ import annotations

import math

import numpy as np
import pytest

from district.intake.devices import Device
from district.intake.rates import rates
from district.intake.sound_path import SoundPath
from district.intake.transit import difference_and_sum

PATH = SoundPath(0.2, 45.0, 0.1, 0.94)
# Regression value: c 1480 m/s, v 1.0 m/s over 0.2 m at 45°, times written to 0.1 ns.
UP = np.array([135.1997, 135.1998, 135.2001]) * 1e-6
DOWN = np.array([135.0706, 135.0708, 135.0703]) * 1e-6
NONE = np.full(3, math.nan)


def device(kind: str = "transit_time", path: SoundPath | None = PATH) -> Device:
    return Device("M", kind, "meter", 3.6, path=path, layer="meters.gpkg")


def test_a_plain_rate_is_scaled() -> None:
    found = rates(device(), np.array([1.0, 1.5, 2.0]), NONE)
    assert found.rate_m3_h.tolist() == pytest.approx([3.6, 5.4, 7.2])
    assert found.step_m3_h == pytest.approx(0.1 * 3.6)
    assert found.notes == []


def test_travel_times_and_their_step() -> None:
    found = rates(device(), *difference_and_sum(UP, DOWN))
    assert found.rate_m3_h == pytest.approx([26.58] * 3, rel=0.01)
    # 0.1 ns of 129 ns is 1/1290 of 1 m/s through 100 mm, 28.3 m³/h.
    assert found.step_m3_h == pytest.approx(28.27 / 1290, rel=0.02)
    assert not found.unsound.any()


def test_sound_that_runs_too_slow_is_no_water() -> None:
    found = rates(device(), *difference_and_sum(UP * 1.2, DOWN * 1.2))
    assert found.unsound.all()
    # 1480 / 1.2 = 1233 m/s.
    assert found.speed_m_s == pytest.approx([1233] * 3, abs=1)


def test_travel_times_without_a_path_are_an_error() -> None:
    found = rates(device(path=None), *difference_and_sum(UP, DOWN))
    assert found.unsound.all()
    assert [(n.severity, n.source, n.column) for n in found.notes] == [
        ("error", "meters.gpkg", "path_length_mm")
    ]


def test_a_second_value_of_another_meter_is_not_used() -> None:
    found = rates(device("electromagnetic"), np.array([1.0, 2.0, 3.0]), np.full(3, 9.0))
    assert found.rate_m3_h.tolist() == pytest.approx([3.6, 7.2, 10.8])
    assert [(n.severity, n.column) for n in found.notes] == [("warning", "kind")]
