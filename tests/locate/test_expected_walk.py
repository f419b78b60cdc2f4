"""Tests of `district.locate.expected_walk`."""

from __future__ import annotations

import numpy as np
import pytest

from district.locate.expected_walk import contrasts, expected_walk_m, sampled_by, walk_m

SIZES = [0.2, 0.5, 1.0, 3.0]


def zone(seed: int, *, pipes: int = 60, readings: int = 5) -> tuple[np.ndarray, ...]:
    """Signs along a line of pipes, smooth as heads are; odds and lengths of all kinds."""
    random = np.random.default_rng(seed)
    along = np.linspace(0, 1, pipes)
    at = random.uniform(0, 1, readings)[:, None]
    signs = 4 * np.exp(-np.abs(along - at) / 0.3) + random.normal(0, 0.1, (readings, pipes))
    return signs, random.normal(0, 1, pipes), random.uniform(20, 150, pipes)


def walked(
    signs: np.ndarray,
    odds: np.ndarray,
    length_m: np.ndarray,
    *,
    flow: float,
    error: float,
    draws: int,
) -> np.ndarray:
    """The same by drawing readings and ranking by probability a metre, size marginalised."""
    random = np.random.default_rng(1)
    readings, pipes = signs.shape
    size2 = (signs**2).sum(axis=0)
    done = np.zeros(pipes)
    for j in range(pipes):
        seen = flow * signs[:, j, None] + random.normal(size=(readings, draws))
        said = flow + error * random.normal(size=draws)
        off = seen[:, None, :] - signs[:, :, None] * said  # (readings, pipes, draws)
        along = np.einsum("fp,fpd->pd", signs, off)
        misfit = (off**2).sum(axis=0) - along**2 * (error**2 / (1 + error**2 * size2))[:, None]
        score = odds[:, None] - misfit / 2 - np.log1p(error**2 * size2)[:, None] / 2
        ahead = (score > score[j]).astype(float).T @ length_m
        done[j] = ahead.mean() + length_m[j] / 2
    return done


@pytest.mark.parametrize("flow", SIZES)
@pytest.mark.parametrize("error", [0.0, 0.1])
def test_the_walk_is_that_of_drawn_readings(flow: float, error: float) -> None:
    signs, odds, length_m = zone(4)
    told = expected_walk_m(signs, odds, length_m, flow_l_s=flow, flow_error_l_s=error)
    drawn = walked(signs, odds, length_m, flow=flow, error=error, draws=1500)
    assert told.mean() == pytest.approx(drawn.mean(), rel=0.03)
    assert np.abs(told - drawn).max() < 0.06 * length_m.sum()


def test_without_readings_the_odds_alone_give_the_order() -> None:
    odds, length_m = np.array([2.0, 1.0, 3.0]), np.array([10.0, 20.0, 40.0])
    told = expected_walk_m(np.zeros((0, 3)), odds, length_m, flow_l_s=1.0, flow_error_l_s=0.1)
    assert told == pytest.approx([40 + 5, 40 + 10 + 10, 20])


def test_pipes_that_nothing_tells_apart_are_walked_half_before() -> None:
    told = expected_walk_m(
        np.ones((2, 4)), np.zeros(4), np.full(4, 50.0), flow_l_s=1.0, flow_error_l_s=0.1
    )
    assert told == pytest.approx(np.full(4, 100.0), rel=1e-5)


@pytest.mark.parametrize("seed", range(5))
def test_one_logger_more_never_lengthens_the_walk(seed: int) -> None:
    signs, odds, length_m = zone(seed)
    odds = odds - np.log((np.exp(odds) * length_m).sum())
    chance = np.exp(odds) * length_m
    means = [
        chance @ expected_walk_m(signs[:n], odds, length_m, flow_l_s=1.0, flow_error_l_s=0.1)
        for n in range(6)
    ]
    assert np.all(np.diff(means) <= 1e-3 * means[0])
    assert means[-1] < means[0]


@pytest.mark.parametrize("seed", range(5))
def test_a_larger_leak_is_found_sooner(seed: int) -> None:
    signs, odds, length_m = zone(seed)
    chance = np.exp(odds) * length_m
    means = [
        chance @ expected_walk_m(signs, odds, length_m, flow_l_s=q, flow_error_l_s=0.05)
        for q in SIZES
    ]
    assert np.all(np.diff(means) < 0)


def test_not_knowing_the_size_lengthens_the_walk() -> None:
    signs, odds, length_m = zone(2)
    means = [
        expected_walk_m(signs, odds, length_m, flow_l_s=1.0, flow_error_l_s=s).mean()
        for s in (0.0, 0.3, 1.0)
    ]
    assert means == sorted(means)


def test_readings_add_up() -> None:
    signs, odds, length_m = zone(3)
    every = np.arange(len(odds))
    both = contrasts(signs[:2], every, every) + contrasts(signs[2:], every, every)
    told = walk_m(
        both,
        leak_odds=odds,
        other_odds=odds,
        other_m=length_m,
        leak_m=length_m,
        same=np.eye(len(odds), dtype=bool),
        flow_l_s=0.7,
        flow_error_l_s=0.1,
    )
    whole = expected_walk_m(signs, odds, length_m, flow_l_s=0.7, flow_error_l_s=0.1)
    assert told == pytest.approx(whole, rel=1e-3)


def test_a_sample_of_the_other_pipes_gives_the_same_within_a_few_percent() -> None:
    signs, odds, length_m = zone(6, pipes=900)
    sample = sampled_by(length_m, 300)
    leaks = np.arange(0, 900, 7)
    some = expected_walk_m(
        signs, odds, length_m, flow_l_s=1.0, flow_error_l_s=0.1, leaks=leaks, sample=sample
    )
    whole = expected_walk_m(signs, odds, length_m, flow_l_s=1.0, flow_error_l_s=0.1, leaks=leaks)
    assert some.mean() == pytest.approx(whole.mean(), rel=0.03)


def test_a_sample_keeps_the_weight() -> None:
    weight = np.random.default_rng(0).uniform(0, 3, 1000)
    place, held = sampled_by(weight, 100)
    assert held.sum() == pytest.approx(weight.sum())
    assert len(np.unique(place)) == len(place) <= 100
    place, held = sampled_by(weight, 1000)
    assert len(place) == 1000
    assert held is weight
