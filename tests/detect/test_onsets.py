"""The size and standing of a step by its likely first nights, against least squares."""

from __future__ import annotations

import numpy as np
import pytest

from district.detect.filter import LEVEL, begun_filter, next_night, taken
from district.detect.onsets import AFTER_NIGHTS, Onsets, felt, likeliest, none_yet, opened, stepped
from tests.detect.test_filter import FEATURES, prior_covariance

YES = np.array([True])


def run(flow: np.ndarray) -> tuple[Onsets, object]:
    f = begun_filter(np.full(1, 5.0), FEATURES.shape[1], shared=False)
    f.carry_share[:] = 0.4
    o = none_yet(1, f.mean.shape[1])
    for night, value in enumerate(flow):
        opened(o, f, night, YES)
        outlook = next_night(f, FEATURES[night], None)
        surprise = value - outlook.flow
        felt(o, outlook, surprise, YES)
        taken(f, outlook, surprise, YES)
    return o, f


def by_least_squares(flow: np.ndarray, first: int) -> tuple[float, float]:
    """Size and its standard error by generalised least squares on all nights at once."""
    step = (np.arange(len(flow)) >= first).astype(float)
    inverse = np.linalg.inv(prior_covariance(FEATURES[: len(flow)], 0.4))
    weight = step @ inverse @ step
    return float(step @ inverse @ (flow - 5) / weight), float(1 / np.sqrt(weight))


@pytest.mark.parametrize("first", [59 - 3, 59 - 10, 59 - 19])
def test_size_and_error_are_those_of_generalised_least_squares(first: int) -> None:
    flow = 5 + np.random.default_rng(3).normal(size=60)
    flow[first:] += 2.0
    o, _ = run(flow)
    slot = int(np.flatnonzero(o.first == first)[0])
    size, error = by_least_squares(flow, first)
    assert o.pull[slot, 0] / o.weight[slot, 0] == pytest.approx(size, abs=1e-3)
    assert o.weight[slot, 0] ** -0.5 == pytest.approx(error, rel=1e-3)


def test_recent_nights_are_all_tried_and_every_fourth_before() -> None:
    o, _ = run(np.full(60, 5.0))
    assert sorted(o.first.tolist()) == [*range(0, 48, 4), *range(48, 60)]


def test_one_night_by_itself_tells_nothing() -> None:
    flow = np.full(60, 5.0)
    flow[59] = 1000.0
    o, _ = run(flow)
    _, slot = likeliest(o)
    assert o.nights[slot[0], 0] >= AFTER_NIGHTS
    assert o.first[slot[0]] < 59


def test_a_step_taken_moves_the_level_and_earlier_nights_are_let_be() -> None:
    flow = 5 + np.random.default_rng(4).normal(size=60)
    flow[50:] += 6.0
    o, f = run(flow)
    score, slot = likeliest(o)
    assert abs(o.first[slot[0]] - 50) <= 1
    assert score[0] > 8
    stepped(o, f, 0, int(slot[0]))
    assert f.mean[0, LEVEL] == pytest.approx(11.0, abs=1.0)
    assert not o.tried.any()
