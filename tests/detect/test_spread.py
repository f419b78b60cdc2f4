"""Noise learnt from the nights so far."""

from __future__ import annotations

import numpy as np
import pytest

from district.detect.spread import learnt, unknown

RANDOM = np.random.default_rng(11)


def of(apart: np.ndarray, clips: tuple[float, ...] = (2.0,), floor: float = 0.0):
    return learnt(
        apart,
        apart,
        np.isfinite(apart),
        unknown(apart.shape[1], clips),
        clips=clips,
        floor_l_s=floor,
        memory_nights=60,
    )


def test_it_is_the_deviation_of_quiet_nights_from_few_or_many() -> None:
    for nights in (20, 300):
        apart = RANDOM.normal(0, 0.5, (nights, 200))
        first = of(apart)
        again = learnt(
            apart, apart, np.isfinite(apart), first, clips=(2.0,), floor_l_s=0.0, memory_nights=60
        )
        assert np.median(again.core_l_s) == pytest.approx(0.5, rel=0.1)


def test_few_nights_are_trusted_less() -> None:
    few, many = of(RANDOM.normal(size=(20, 200))), of(RANDOM.normal(size=(41, 200)))
    assert np.median(few.noise_l_s / few.core_l_s) > np.median(many.noise_l_s / many.core_l_s) > 1


def test_correlation_is_learnt_and_limited() -> None:
    apart = RANDOM.normal(size=(240, 100))
    for night in range(1, 240):
        apart[night] = 0.6 * apart[night - 1] + 0.8 * apart[night]
    assert np.median(of(apart).carry_share) == pytest.approx(0.55, abs=0.1)
    assert of(np.ones((240, 1)) * 3.0, floor=1.0).carry_share[0] <= 0.7


def test_steps_and_spikes_hardly_count_while_few_nights_are_known() -> None:
    apart = RANDOM.normal(size=(30, 100))
    plain = np.median(of(apart).core_l_s)
    apart[15:] += 8
    apart[5] += 30
    assert np.median(of(apart).core_l_s) == pytest.approx(plain, rel=0.25)


def test_no_night_gives_the_floor() -> None:
    found = of(np.full((5, 2), np.nan), floor=0.01)
    assert found.core_l_s.tolist() == [0.01, 0.01]
    assert (found.noise_l_s > 0.01).all()
