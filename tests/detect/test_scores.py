"""The likelihood ratio of a step, against plain least squares and a published run length.

Siegmund D., Venkatraman E.S. (1995) Using the generalized likelihood ratio statistic for
sequential detection of a change-point, Annals of Statistics 23(1) 255-271 (from memory): with the
level known and every start tried, both directions, the mean time to a false alarm at limit h is
sqrt(2 pi) exp(h^2 / 2) / (h x integral of x v(x)^2 dx from 0 to h), v(x) about exp(-0.583 x).
"""

from __future__ import annotations

import numpy as np
import pytest
from scipy.integrate import quad

from district.detect.scores import Sums, Whitened, running, step_scores, whitened

RANDOM = np.random.default_rng(3)


def scored(
    flow: np.ndarray, known: np.ndarray, carry: float, lags: list[int], night: int, memory: int = 60
) -> np.ndarray:
    noise = np.ones((1, flow.shape[1]))
    white = whitened(flow, known, carry_share=np.full(flow.shape[1], carry), noise_l_s=noise)
    sums = running(white, known)
    return step_scores(sums, white, night, lags=np.array(lags), memory_nights=memory)[0]


@pytest.mark.parametrize("carry", [0.0, 0.4])
def test_a_score_is_that_of_generalised_least_squares(carry: float) -> None:
    """Against numpy's solution of the same model with its full covariance matrix."""
    nights, lag = 30, 7
    flow = RANDOM.normal(size=(nights, 1))
    flow[-lag:] += 1.0
    covariance = carry ** np.abs(np.subtract.outer(np.arange(nights), np.arange(nights)))
    step = (np.arange(nights) >= nights - lag).astype(float)
    design = np.column_stack([np.ones(nights), step])
    inverse = np.linalg.inv(covariance)
    spread = np.linalg.inv(design.T @ inverse @ design)
    size = (spread @ design.T @ inverse @ flow)[1, 0]
    score = scored(flow, np.ones_like(flow, dtype=bool), carry, [lag], nights - 1)
    assert score[0, 0] == pytest.approx(size / np.sqrt(spread[1, 1]))


def test_missing_nights_count_for_nothing() -> None:
    flow = RANDOM.normal(size=(40, 1))
    known = np.ones_like(flow, dtype=bool)
    known[[5, 20, 33]] = False
    kept = scored(flow[known[:, 0]], np.ones((37, 1), dtype=bool), 0.0, [9], 36)
    assert scored(np.where(known, flow, 99.0), known, 0.0, [10], 39) == pytest.approx(kept)


def test_scores_of_quiet_nights_have_unit_variance() -> None:
    flow = RANDOM.normal(size=(61, 4000))
    scores = scored(flow, np.ones_like(flow, dtype=bool), 0.0, [2, 7, 20], 60)
    assert scores.std(axis=1) == pytest.approx(np.ones(3), rel=0.05)


def test_one_night_or_a_short_level_is_not_judged() -> None:
    flow = np.zeros((20, 1))
    flow[-1] = 50.0
    known = np.ones_like(flow, dtype=bool)
    assert scored(flow, known, 0.0, [1, 15], 19).tolist() == [[0.0], [0.0]]


def test_mean_nights_to_a_false_alarm_are_the_published_ones() -> None:
    """Level all but known (10,000 nights before), every start tried: 200 series at limit 2.9."""
    limit, before, series = 2.9, 10_000, 200
    lags = np.arange(2, 121)
    flow = RANDOM.normal(size=(900, series))
    white = Whitened(flow, np.ones_like(flow), np.ones_like(flow))
    sums = running(white, np.ones_like(flow, dtype=bool))
    for part in (sums.weight, sums.count):
        part[1:] += before
    heard = np.full(series, 900)
    for night in range(121, 900):
        scores, _ = step_scores(
            Sums(sums.weight, sums.flow, sums.count),
            white,
            night,
            lags=lags,
            memory_nights=night + 1,
        )
        hit = (np.abs(scores).max(axis=0) > limit) & (heard == 900)
        heard[hit] = night - 120
    integral = quad(lambda x: x * np.exp(-2 * 0.583 * x), 0, limit)[0]
    published = np.sqrt(2 * np.pi) * np.exp(limit**2 / 2) / (limit * integral)
    ended = heard < 900
    # Series that go on are counted by their nights (an exponential law). One night never tells
    # here, and scores begin from a full window: within a quarter.
    mean = np.where(ended, heard, 780).sum() / ended.sum()
    assert mean == pytest.approx(published, rel=0.25)
