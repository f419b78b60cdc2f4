"""Partial pooling: few pipes or one break do not lead by luck."""

from __future__ import annotations

import numpy as np
import pytest
from scipy import stats

from district.locate.pooling import USUAL_SHAPE, pooled


def test_without_history_nothing_moves() -> None:
    fit = pooled(np.zeros(3), np.zeros(3), np.array([0, 1, 1]), groups_count=2)
    assert fit.mean(np.array([0, 1, 1])) == pytest.approx(1.0)


def test_a_group_of_three_pipes_does_not_lead_by_luck() -> None:
    # 300 ordinary pipes break 60 times where 60 were due; three odd ones once where 0.3 was due.
    expected = np.concatenate([np.full(300, 0.2), np.full(3, 0.1)])
    breaks = np.concatenate([np.tile([1.0, 0.0, 0.0, 0.0, 0.0], 60), [1.0, 0.0, 0.0]])
    group = np.concatenate([np.zeros(300), np.ones(3)]).astype(int)
    factor = pooled(expected, breaks, group, groups_count=2).mean(group)
    raw = 1 / 0.3
    assert 1.0 < factor[301] < 1.2 < raw
    assert factor[300] < 2.0


def test_one_break_on_a_short_pipe_does_not_pass_many_on_a_bad_one() -> None:
    expected = np.concatenate([np.full(200, 0.2), [0.02, 1.0]])
    breaks = np.concatenate([np.tile([1.0, 0.0, 0.0, 0.0, 0.0], 40), [1.0, 5.0]])
    group = np.zeros(202, dtype=int)
    factor = pooled(expected, breaks, group, groups_count=1).mean(group)
    assert breaks[200] / expected[200] > breaks[201] / expected[201]
    assert 1 < factor[200] < factor[201]


def test_many_breaks_in_a_large_group_are_believed() -> None:
    group = np.repeat([0, 1], 500)
    expected = np.full(1000, 0.2)
    random = np.random.default_rng(5)
    breaks = random.poisson(expected * np.where(group == 1, 4.0, 1.0)).astype(float)
    factor = pooled(expected, breaks, group, groups_count=2).mean(group)
    assert factor[group == 1].mean() / factor[group == 0].mean() == pytest.approx(4, rel=0.2)


@pytest.mark.parametrize("shape", [0.5, 1.0, 4.0])
def test_unlikeness_of_pipes_is_found_from_their_breaks(shape: float) -> None:
    random = np.random.default_rng(6)
    expected = np.full(4000, 1.0)
    breaks = random.poisson(expected * random.gamma(shape, 1 / shape, 4000)).astype(float)
    fit = pooled(expected, breaks, np.zeros(4000, dtype=int), groups_count=1)
    assert fit.unit_shape[breaks == 0][0] == pytest.approx(shape, rel=0.25)


def test_few_breaks_leave_the_usual_unlikeness() -> None:
    fit = pooled(np.full(3, 0.1), np.array([1.0, 0, 0]), np.zeros(3, dtype=int), groups_count=1)
    assert fit.unit_shape[1] == pytest.approx(USUAL_SHAPE, rel=0.5)


def test_unit_posterior_is_the_gamma_of_an_independent_integration() -> None:
    # The same posterior mean by brute-force integration of prior x Poisson likelihood.
    fit = pooled(
        np.array([0.5, 0.5, 0.5]),
        np.array([2.0, 0.0, 0.0]),
        np.zeros(3, dtype=int),
        groups_count=1,
    )
    shape = fit.unit_shape[1]
    mean = fit.unit_rate[0] - shape
    u = np.linspace(1e-6, 30, 300_001)
    weight = stats.gamma.pdf(u, shape, scale=1 / shape) * stats.poisson.pmf(2, u * mean)
    by_hand = (u * weight).sum() / weight.sum()
    assert fit.unit_shape[0] / fit.unit_rate[0] == pytest.approx(by_hand, rel=1e-3)
