from __future__ import annotations

import numpy as np
import pytest

from district.balance.contest import chance, observed
from district.balance.dating import first_days

USE = np.array([2.0, 2.0])


def dated(size: float, noise: float, seed: int, at: int = 60) -> tuple[int, int]:
    rng = np.random.default_rng(seed)
    night, day = rng.normal(0, noise, (120, 2)), rng.normal(0, noise, (120, 2))
    for values in (night, day):
        values[at:] += [size, -size]
    made = chance(USE, night, day, settled=True)
    return first_days(
        (night, day), observed(night, day, made), made, cells=(0, 1), size_l_s=(size, size), at=at
    )


def test_a_clear_change_is_dated_to_the_day() -> None:
    assert dated(1.0, 0.05, 1) == (60, 60)


def test_the_limits_hold_the_true_day_as_often_as_they_say() -> None:
    held = [low <= 60 <= high for low, high in (dated(0.05, 0.06, seed) for seed in range(120))]
    assert np.mean(held) > 0.88
    wide = np.mean([high - low for low, high in (dated(0.05, 0.06, s) for s in range(120))])
    assert 0.5 < wide < 25


def test_a_gap_before_the_change_belongs_to_the_limits() -> None:
    night = np.zeros((120, 2)) + np.random.default_rng(3).normal(0, 0.05, (120, 2))
    night[60:] += [1.0, -1.0]
    night[55:60] = np.nan
    made = chance(USE, night, night, settled=True)
    low, high = first_days(
        (night, night), observed(night, night, made), made,
        cells=(0, 1), size_l_s=(1.0, 1.0), at=60,
    )  # fmt: skip
    assert (low, high) == (55, 60)


def test_nothing_known_gives_the_day_itself() -> None:
    lost = np.full((40, 2), np.nan)
    made = chance(USE, lost, lost, settled=False)
    seen = observed(lost, lost, made)
    found = first_days((lost, lost), seen, made, cells=(0, 1), size_l_s=(1.0, 1.0), at=20)
    assert found == pytest.approx((20, 20))
