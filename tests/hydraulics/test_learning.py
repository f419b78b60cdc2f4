"""Tests of `district.hydraulics.learning`."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from scipy.sparse import csr_array

from district.hydraulics.learning import learnt_errors
from district.hydraulics.model import Reals
from district.hydraulics.update import PIPE_SPREAD, Readings

LOGGERS, STATES = 12, 8
LOGGER = np.tile(np.arange(LOGGERS), STATES)
STATE = np.repeat(np.arange(STATES), LOGGERS)


def _readings(slope_m: float = 0.0) -> Readings:
    rng = np.random.default_rng(0)
    course = (STATE / STATES) ** 2
    return Readings(
        logger=LOGGER,
        state=STATE,
        roughness_m=slope_m * course[:, None] * rng.uniform(0.0, 1.0, (len(LOGGER), 20)),
        use_m=np.zeros((len(LOGGER), 1)),
        member=csr_array(np.ones((20, 1))),
        zone=np.zeros(LOGGERS, dtype=np.int64),
        offset_spread_m=np.full(LOGGERS, 0.7),
    )


def _left(noise_m: float, common_m: float, seed: int = 1) -> Reals:
    rng = np.random.default_rng(seed)
    offset, common = rng.normal(0.0, 0.7, LOGGERS), rng.normal(0.0, common_m, STATES)
    return np.asarray(offset[LOGGER] + common[STATE] + rng.normal(0.0, noise_m, len(LOGGER)))


@pytest.mark.parametrize(("noise_m", "common_m"), [(0.05, 0.3), (0.3, 0.05)])
def test_noise_and_the_common_part_are_told_apart(noise_m: float, common_m: float) -> None:
    learnt = learnt_errors(_readings(), _left(noise_m, common_m))
    assert learnt.noise_m == pytest.approx(noise_m, rel=0.25)
    # Eight states tell a spread to about a quarter of itself.
    assert 0.4 * common_m < learnt.common_m < 1.9 * common_m
    assert learnt.doubt_index < 1.5


def test_a_logger_that_runs_wild_counts_less_than_the_others() -> None:
    left = _left(0.05, 0.05)
    wild = LOGGER == 4
    left[wild] += np.random.default_rng(7).normal(0.0, 2.0, STATES)
    learnt = learnt_errors(_readings(), left)
    assert learnt.trust[4] < 0.02
    assert np.delete(learnt.trust, 4).min() > 0.2
    assert learnt.noise_m < 0.1


def test_an_offset_out_of_proportion_may_lie_as_far_as_it_does() -> None:
    left = _left(0.05, 0.05)
    left[LOGGER == 2] += 8.0
    learnt = learnt_errors(_readings(), left)
    assert learnt.offset_m[2] > 3.0
    assert np.delete(learnt.offset_m, 2).max() < 1.5


def test_courses_beyond_the_stated_roughness_raise_doubt() -> None:
    readings = _readings(slope_m=1.0)
    log = 0.15 + np.random.default_rng(2).normal(0.0, PIPE_SPREAD, 20)
    fair = _left(0.05, 0.05) + readings.roughness_m @ log
    assert learnt_errors(readings, fair).doubt_index < 2.0
    far = _left(0.05, 0.05) + readings.roughness_m @ (0.15 + 5.0 * (log - 0.15))
    assert learnt_errors(readings, far).doubt_index > 4.0


def test_it_begins_from_what_was_learnt_before() -> None:
    left = _left(0.05, 0.3)
    first = learnt_errors(_readings(), left)
    again = learnt_errors(_readings(), left, start=replace(first, noise_m=1.0))
    assert again.noise_m == pytest.approx(first.noise_m, rel=0.15)
