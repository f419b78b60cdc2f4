"""Odds of explanations against a general-purpose normal density."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
from scipy.stats import multivariate_normal

from district.balance.contest import (
    BEGIN_PER_YEAR,
    METER_SHARE,
    Observed,
    alone,
    chance,
    meter_odds,
    observed,
    pair_odds,
)

H = np.array([[0.01, 0.002], [0.002, 0.04]])


def seen(*shifts: tuple[float, float]) -> Observed:
    """One date, a cell a shift (night, day), each of covariance H."""
    n, d = np.array([shifts]).transpose(2, 0, 1)
    shape = np.ones(n.shape)
    return Observed(n, d, H[0, 0] * shape, H[1, 1] * shape, H[0, 1] * shape)


def log_normal(x: Any, covariance: Any) -> float:
    return float(multivariate_normal(cov=covariance).logpdf(np.asarray(x).ravel()))


def test_the_odds_of_a_meter_are_those_of_the_normal_densities(draw_equations: Any) -> None:
    known = draw_equations(days_count=60)
    known.night_flow_l_s[:], known.day_flow_l_s[:] = 1.0, 3.0
    found = meter_odds(known, seen((0, 0), (-0.1, -0.3), (0.12, 0.28), (0, 0)), days=slice(10, 11))
    assert list(found.meters) == [1, 2, 3]
    f = np.array([1.0, 3.0, -1.0, -3.0])
    both = np.kron(np.eye(2), H)
    r = np.array([0.12, 0.28, -0.1, -0.3])  # of meter 2: into cell 2, out of cell 1
    inverse = np.linalg.inv(both)
    assert found.share[0, 1] == pytest.approx((f @ inverse @ r) / (f @ inverse @ f))
    assert found.statistic[0, 1] == pytest.approx((f @ inverse @ r) ** 2 / (f @ inverse @ f))
    assert found.deviation[0, 1] == pytest.approx((f @ inverse @ f) ** -0.5)
    spread = max(METER_SHARE, abs(found.share[0, 1])) ** 2
    ratio = log_normal(r, both + spread * np.outer(f, f)) - log_normal(r, both)
    assert found.odds[0, 1] == pytest.approx(ratio + np.log(BEGIN_PER_YEAR["meter"] / 365.0))


def test_the_odds_of_a_pair_are_those_of_the_normal_densities(pairs: Any) -> None:
    shown = seen((0, 0), (0.5, 0.4), (-0.45, -0.5), (0, 0))
    odds, night, day = pair_odds(shown, pairs, use_l_s=np.full(4, 2.0))
    flow = np.array([0.475, 0.45])  # equal covariances: the mean of gain and loss
    assert (night[0, 1], day[0, 1]) == pytest.approx(tuple(flow))
    spread = flow.max() ** 2
    k = spread * np.array([[1.0, 0.9], [0.9, 1.0]])
    both = np.kron(np.eye(2), H)
    shared = np.block([[k, -k], [-k, k]])
    r = np.array([0.5, 0.4, -0.45, -0.5])
    ratio = log_normal(r, both + shared) - log_normal(r, both)
    assert odds[0, 1] == pytest.approx(ratio + np.log(BEGIN_PER_YEAR["valve"] / 365.0))


def test_a_leak_and_a_change_of_use_are_weighed_by_their_ratio_of_night_and_day() -> None:
    shown = seen((0.0, 0.0), (0.5, 0.45), (0.1, 1.0))
    use, factor = np.full(3, 2.0), np.full(3, 0.9)
    odds, night, day = alone(shown, use_l_s=use, factor_share=factor)
    assert odds[0, 0] < 0.1
    assert odds[0, 1] > 5
    assert odds[0, 2] > 3
    assert night[0, 1] == pytest.approx(day[0, 1] / 0.9, rel=0.1)
    assert night[0, 2] < 0.3 * day[0, 2]
    often, _, _ = alone(shown, use_l_s=use, factor_share=factor, per_year=(30.0, 0.0))
    assert often[0, 1] > odds[0, 1] + 2


def test_nothing_known_weighs_nothing(draw_equations: Any, pairs: Any) -> None:
    known = draw_equations(days_count=40)
    lost = np.full((40, 4), np.nan)
    shown = observed(lost, lost, chance(known.use_l_s, lost, lost, settled=False))
    odds, _, _ = alone(shown, use_l_s=known.use_l_s, factor_share=known.factor_share)
    assert odds.max() < 0.1
    assert meter_odds(known, shown, days=slice(None)).odds.max() < 0
    assert pair_odds(shown, pairs, use_l_s=known.use_l_s)[0].max() < 0
