"""Tests of `district.hydraulics.wave_speed`."""

from __future__ import annotations

import numpy as np

from district.hydraulics.wave_speed import speeds_m_s
from district.schema.inputs import MATERIALS


def test_metal_is_faster_and_better_known_than_plastic() -> None:
    speed, spread = speeds_m_s(["cast_iron", "polyethylene"])
    assert speed[0] > 3 * speed[1]
    assert spread[0] < spread[1]


def test_every_material_has_a_speed_of_sound() -> None:
    speed, spread = speeds_m_s(list(MATERIALS))
    assert ((speed > 200) & (speed < 1500)).all()
    assert ((spread > 0) & (spread < 1)).all()


def test_what_is_not_known_spans_plastic_to_metal() -> None:
    (speed,), (spread,) = speeds_m_s(["unknown"])
    assert speed * (1 - spread) < 420
    assert speed * (1 + spread) > 1285
    np.testing.assert_array_equal(speeds_m_s(["wood"])[0], [speed])
