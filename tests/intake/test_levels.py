from __future__ import annotations

import numpy as np

from district.intake.levels import sound_levels


def test_a_lone_jump_does_not_stand() -> None:
    level = 231.0 + 0.5 * np.sin(np.arange(40) / 4).round(2)
    level[17] = 239.0
    keep, (note,) = sound_levels(level, np.arange(40.0))
    assert np.flatnonzero(~keep).tolist() == [17]
    assert note.got == "1 reading far beyond all others of the same device"


def test_a_level_may_lie_below_zero_and_stand_still_for_a_night() -> None:
    level = np.concatenate([np.linspace(-1, 1, 60), np.full(10, 1.0), np.linspace(1, -1, 60)])
    keep, notes = sound_levels(level.round(3), np.arange(130.0))
    assert keep.all()
    assert notes == []


def test_a_level_that_stands_still_for_a_day_is_stuck() -> None:
    level = np.concatenate([np.linspace(2, 3, 60), np.full(30, 3.0), np.linspace(3.1, 2, 60)])
    keep, (note,) = sound_levels(level.round(3), np.arange(150.0))
    assert np.flatnonzero(~keep).tolist() == list(range(59, 90))
    assert note.sentence() == (
        ": got 31 readings of a level that stood still for a day or more, expected a level that "
        "moves. Check the sensor, or take it out of the sensors if the tank is not in use; they "
        "are left out."
    )


def test_few_readings() -> None:
    for count in (0, 1, 2):
        keep, notes = sound_levels(np.full(count, 2.0), np.arange(float(count)))
        assert keep.tolist() == [True] * count
        assert notes == []
