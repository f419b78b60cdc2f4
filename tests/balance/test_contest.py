"""Odds of explanations against a general-purpose normal density."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
from scipy.stats import multivariate_normal

from district.balance.contest import (
    BEGIN_PER_YEAR,
    METER_SHARE,
    MeterOdds,
    Observed,
    alone,
    chance,
    meter_odds,
    pair_odds,
)
from district.balance.levels import levelled, none_added

H = np.array([[0.01, 0.002], [0.002, 0.04]])


def seen(*shifts: tuple[float, float]) -> Observed:
    """One date, a cell a shift (night, day), each of covariance H."""
    n, d = np.array([shifts]).transpose(2, 0, 1)
    shape = np.ones(n.shape)
    return Observed(n, d, H[0, 0] * shape, H[1, 1] * shape, H[0, 1] * shape)


def log_normal(x: Any, covariance: Any) -> float:
    return float(multivariate_normal(cov=covariance).logpdf(np.asarray(x).ravel()))


def odds_of(shown: Observed, night: Any, day: Any) -> MeterOdds:
    """Of meters 1 to 3 into cells 1 to 3 of a row."""
    into = np.array([1, 2, 3])
    return meter_odds(shown, into=into, out_of=into - 1, night_flow_l_s=night, day_flow_l_s=day)


def test_the_odds_of_a_meter_are_those_of_the_normal_densities() -> None:
    flows = np.full((1, 3), 1.0), np.full((1, 3), 3.0)
    shown = seen((0, 0), (-0.1, -0.3), (0.12, 0.28), (0, 0))
    found = odds_of(shown, *flows)
    f = np.array([1.0, 3.0, -1.0, -3.0])
    both = np.kron(np.eye(2), H)
    r = np.array([0.12, 0.28, -0.1, -0.3])  # of meter 2: into cell 2, out of cell 1
    inverse = np.linalg.inv(both)
    assert found.share[0, 1] == pytest.approx((f @ inverse @ r) / (f @ inverse @ f))
    assert found.statistic[0, 1] == pytest.approx((f @ inverse @ r) ** 2 / (f @ inverse @ f))
    assert found.deviation[0, 1] == pytest.approx((f @ inverse @ f) ** -0.5)
    spread = METER_SHARE**2
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
    found = alone(shown, use_l_s=use, factor_share=factor)
    assert found.odds[0, 0] < 0.1
    assert found.odds[0, 1] > 5
    assert found.odds[0, 2] > 3
    assert found.night_l_s[0, 1] == pytest.approx(found.day_l_s[0, 1] / 0.9, rel=0.1)
    assert found.night_l_s[0, 2] < 0.3 * found.day_l_s[0, 2]
    # The odds are those of the normal densities, at the rate at which such a thing begins.
    k = np.array([[found.usual[i][0, 1] for i in row] for row in ((0, 2), (2, 1))])
    ratio = log_normal([0.5, 0.45], H + k) - log_normal([0.5, 0.45], H)
    assert found.odds[0, 1] == pytest.approx(ratio + found.often[0, 1])
    assert found.often[0, 1] == pytest.approx(np.log(BEGIN_PER_YEAR["leak"] / 365.0))


def test_nothing_known_weighs_nothing(draw_equations: Any, pairs: Any) -> None:
    known = draw_equations(days_count=40)
    lost = np.full((40, 4), np.nan)
    made = chance(known.use_l_s, lost, lost, settled=False)
    shown, _ = levelled(lost, lost, made, none_added(lost.shape))
    found = alone(shown, use_l_s=known.use_l_s, factor_share=known.factor_share)
    assert found.odds.max() < 0.1
    flows = known.night_flow_l_s[:, 1:], known.day_flow_l_s[:, 1:]
    assert odds_of(shown, *flows).odds.max() < 0
    assert pair_odds(shown, pairs, use_l_s=known.use_l_s)[0].max() < 0
