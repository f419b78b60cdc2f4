"""Tests of `district.hydraulics.update` against plain algebra on the whole vector of unknowns."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.sparse import csr_array

from district.hydraulics.update import (
    ALL_SPREAD,
    GROUP_SPREAD,
    PIPE_SPREAD,
    ZONE_SPREAD_M,
    Learnt,
    Readings,
    Weighed,
    joint_draws,
    log_roughness,
    mean_factors,
    offsets,
    use_departures,
    weighed,
)

LINKS, LOGGERS, STATES = 5, 3, 4


@pytest.fixture
def by() -> Weighed:
    rng = np.random.default_rng(5)
    logger = np.tile(np.arange(LOGGERS), STATES)
    member = np.array([[1, 0], [1, 0], [0, 1], [0, 1], [0, 0]], dtype=float)
    slope = rng.uniform(0.0, 8.0, (len(logger), LINKS))
    slope[:, -1] = 0.0  # a valve: no roughness of its own
    return weighed(
        Readings(
            logger=logger,
            state=np.repeat(np.arange(STATES), LOGGERS),
            roughness_m=slope,
            use_m=rng.normal(0.0, 0.2, (len(logger), 6)),
            member=csr_array(member),
            zone=np.array([0, 0, 1]),
            offset_spread_m=np.array([0.7, 0.7, 3.0]),
        ),
        Learnt(0.1, 0.2, np.array([0.7, 0.7, 3.0]), np.array([1.0, 0.5, 1.0]), doubt_index=1.5),
    )


def _by_hand(by: Weighed, left: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Mean and covariance of roughness of links 0 to 3 and offsets, by the normal equations.

    Unknowns: links, use deviations, offsets, heads of zones, common part of each state and zone.
    """
    at, learnt = by.readings, by.learnt
    member = at.member.toarray()[:4]
    roughness = learnt.doubt_index * (
        GROUP_SPREAD**2 * member @ member.T + ALL_SPREAD**2 + PIPE_SPREAD**2 * np.eye(4)
    )
    offset = np.diag([*learnt.offset_m**2, ZONE_SPREAD_M**2, ZONE_SPREAD_M**2])
    common = np.array([[(s, z) == (k, at.zone[g]) for s in range(STATES) for z in range(2)]
                       for k, g in zip(at.state, at.logger, strict=True)], dtype=float)  # fmt: skip
    slopes = np.hstack(
        [
            at.roughness_m[:, :4],
            at.use_m,
            np.eye(LOGGERS)[at.logger],
            np.eye(2)[at.zone[at.logger]],
            common,
        ]
    )
    sizes = [4, 6, LOGGERS + 2, 2 * STATES]
    precision = np.zeros((sum(sizes), sum(sizes)))
    blocks = [roughness, learnt.doubt_index * np.eye(6), offset, learnt.common_m**2 * np.eye(8)]
    edge = np.cumsum([0, *sizes])
    for a, b, block in zip(edge, edge[1:], blocks, strict=False):
        precision[a:b, a:b] = np.linalg.inv(block)
    noise = learnt.trust[at.logger] / learnt.noise_m**2
    covariance = np.linalg.inv(precision + slopes.T @ (noise[:, None] * slopes))
    return covariance @ slopes.T @ (noise * left), covariance


def test_it_is_the_least_squares_of_all_unknowns_together(by: Weighed) -> None:
    left = np.random.default_rng(1).normal(0.0, 1.0, len(by.readings.logger))
    mean, covariance = _by_hand(by, left)
    np.testing.assert_allclose(log_roughness(by, left)[:4], mean[:4], atol=1e-8)
    assert log_roughness(by, left)[4] == 0.0
    found = offsets(by, left)
    np.testing.assert_allclose(found.own_m, mean[10:13], atol=1e-8)
    np.testing.assert_allclose(found.together_m, mean[10:13] + mean[[13, 13, 14]], atol=1e-8)
    np.testing.assert_allclose(found.own_spread_m, np.sqrt(np.diag(covariance)[10:13]), rtol=1e-6)
    weight = np.array([[0.3, 0.7, 0.0, 0.0, 0.0], [0.0, 0.0, 0.5, 0.5, 0.0]])
    value, after, before = mean_factors(by, weight, left)
    np.testing.assert_allclose(value, weight[:, :4] @ mean[:4], atol=1e-8)
    inside = weight[:, :4] @ covariance[:4, :4] @ weight[:, :4].T
    np.testing.assert_allclose(after, np.sqrt(np.diag(inside)), rtol=1e-6)
    assert (after < before).all()


def test_draws_have_the_mean_and_covariance_of_what_is_left_open(by: Weighed) -> None:
    left = np.random.default_rng(2).normal(0.0, 1.0, len(by.readings.logger))
    mean, covariance = _by_hand(by, left)
    draws, use = joint_draws(by, left, rng=np.random.default_rng(3), count=20_000)
    np.testing.assert_allclose(use.mean(axis=0), use_departures(by, left), atol=0.04)
    assert (use.std(axis=0) < 1.04 * np.sqrt(by.learnt.doubt_index)).all()
    np.testing.assert_allclose(draws[:, :4].mean(axis=0), mean[:4], atol=0.01)
    np.testing.assert_allclose(np.cov(draws[:, :4].T), covariance[:4, :4], atol=0.003)
    assert (draws[:, 4] == 0.0).all()
