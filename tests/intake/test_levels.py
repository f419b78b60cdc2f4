from __future__ import annotations

import numpy as np

from district.intake.levels import sound_levels


def test_a_lone_jump_does_not_stand() -> None:
    level = 231.0 + 0.5 * np.sin(np.arange(40) / 4).round(2)
    level[17] = 239.0
    jumped, still = sound_levels(level, np.arange(40.0))
    assert np.flatnonzero(jumped).tolist() == [17]
    assert not still.any()


def test_a_level_may_lie_below_zero_and_stand_still_for_a_night() -> None:
    level = np.concatenate([np.linspace(-1, 1, 60), np.full(10, 1.0), np.linspace(1, -1, 60)])
    for wrong in sound_levels(level.round(3), np.arange(130.0)):
        assert not wrong.any()


def test_a_level_that_stands_still_for_a_day_is_stuck() -> None:
    level = np.concatenate([np.linspace(2, 3, 60), np.full(30, 3.0), np.linspace(3.1, 2, 60)])
    jumped, still = sound_levels(level.round(3), np.arange(150.0))
    assert np.flatnonzero(still).tolist() == list(range(59, 90))
    assert not jumped.any()


def test_few_readings() -> None:
    for count in (0, 1, 2):
        for wrong in sound_levels(np.full(count, 2.0), np.arange(float(count))):
            assert wrong.tolist() == [False] * count
