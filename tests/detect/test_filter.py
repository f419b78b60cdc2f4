"""The filter against least squares and a general solver of the same normal equations."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest
from scipy.stats import multivariate_normal

from district.detect.filter import (
    CARRIED,
    FIRST_EFFECT,
    LEVEL,
    WANDER,
    begun_filter,
    next_night,
    passed,
    taken,
    usual,
)
from district.detect.rhythm import DAY_FEATURES, day_features, season_features

AXIS = pd.date_range("2023-01-02", periods=60, freq="D")
FEATURES = np.column_stack([day_features(AXIS, []), season_features(AXIS)])


def prior_covariance(features: np.ndarray, carry: float) -> np.ndarray:
    """Of the flows of all nights, written down from what each component is."""
    nights = np.arange(len(features))
    apart = np.abs(nights[:, None] - nights[None, :])
    days, waves = features[:, :DAY_FEATURES], features[:, DAY_FEATURES:]
    return (
        3.0**2
        + 0.22**2 * np.exp(-apart / 60.0)
        + carry**apart
        + 0.5**2 * days @ days.T
        + 2.0**2 * waves[:, :2] @ waves[:, :2].T
        + 0.7**2 * waves[:, 2:] @ waves[:, 2:].T
        + 1e-3 * np.eye(len(features))
    )


def test_likelihood_of_all_nights_is_that_of_the_joint_normal_law() -> None:
    """SciPy's multivariate normal, in place of one night after the other."""
    flow = 5 + np.random.default_rng(1).normal(size=60)
    f = begun_filter(np.full(1, 5.0), FEATURES.shape[1], shared=False)
    f.carry_share[:] = 0.4
    total = 0.0
    for night in range(60):
        outlook = next_night(f, FEATURES[night], None)
        surprise = flow[night] - outlook.flow
        total += float(
            multivariate_normal.logpdf(surprise[0], mean=0.0, cov=float(outlook.variance[0]))
        )
        taken(f, outlook, surprise, np.array([True]))
    joint = multivariate_normal.logpdf(flow - 5, np.zeros(60), prior_covariance(FEATURES, 0.4))
    assert total == pytest.approx(joint, abs=1e-6)


def test_a_missing_night_moves_nothing_but_time() -> None:
    f = begun_filter(np.array([2.0, 2.0]), FEATURES.shape[1], shared=False)
    before = f.mean.copy()
    outlook = next_night(f, FEATURES[0], None)
    cov = f.cov.copy()
    taken(f, outlook, np.array([3.0, 3.0]), np.array([True, False]))
    np.testing.assert_allclose(f.mean[1], before[1])
    np.testing.assert_allclose(f.cov[1], cov[1])
    assert f.mean[0, LEVEL] > 3.5


def test_weekdays_and_what_others_do_are_learnt_as_far_as_they_show() -> None:
    rng = np.random.default_rng(2)
    axis = pd.date_range("2023-01-02", periods=700, freq="D")
    days = day_features(axis, [])
    common = rng.normal(size=(700, 2))
    flow = 10 + rng.normal(size=(700, 2)) + 2.0 * (axis.day_of_week >= 5)[:, None]
    flow[:, 0] += common[:, 0]
    f = begun_filter(np.array([10.0, 10.0]), days.shape[1], shared=True)
    for night in range(700):
        outlook = next_night(f, days[night], common[night])
        taken(f, outlook, flow[night] - outlook.flow, np.ones(2, dtype=bool))
    assert f.mean[:, -1] == pytest.approx([1.0, 0.0], abs=0.1)
    week = f.mean[:, FIRST_EFFECT : FIRST_EFFECT + 7]
    assert week[:, 5:].mean() - week[:, :5].mean() == pytest.approx(2.0, abs=0.2)
    rhythm = usual(f, days, common)
    assert (flow - rhythm)[axis.day_of_week >= 5].mean() == pytest.approx(
        (flow - rhythm)[axis.day_of_week < 5].mean(), abs=0.2
    )


def test_what_a_night_leaves_of_wander_and_carried_noise() -> None:
    components = np.ones((1, 5))
    passed(components, np.array([0.3]))
    assert components[0, [LEVEL, CARRIED, 3, 4]].tolist() == [1.0, 0.3, 1.0, 1.0]
    assert components[0, WANDER] == pytest.approx(np.exp(-1 / 60))
