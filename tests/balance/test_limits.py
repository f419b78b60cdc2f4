"""Limits by variance: sums, differences, products; steps and lumps."""

from __future__ import annotations

import numpy as np
import pytest
from scipy import stats

from district.balance import limits
from district.estimates import not_below_zero


def test_register_step_is_triangular() -> None:
    # Independent reference: true volumes cut to a 0.1 m3 register at both ends of a window.
    rng = np.random.default_rng(2)
    start = rng.uniform(0, 1000, 100_000)
    end = start + 1.2345
    read = np.floor(end / 0.1) * 0.1 - np.floor(start / 0.1) * 0.1
    off_l_s = (read - 1.2345) * 1000 / 7200
    expected = limits.resolution_deviation_l_s(0.1, window_h=2.0)
    # For one fixed volume the error has two values; over all volumes it is triangular.
    assert np.abs(off_l_s).max() <= 0.1 * 1000 / 7200
    volumes = rng.uniform(0, 5, 100_000)
    read = np.floor((start + volumes) / 0.1) * 0.1 - np.floor(start / 0.1) * 0.1
    assert np.std((read - volumes) * 1000 / 7200) == pytest.approx(float(expected), rel=0.02)


def outside(low: float, high: float, *, draws: float, spread_share: float) -> tuple[float, float]:
    """Exact probability of less than `low` and of more than `high`, L/s, of the mean flow.

    Independent reference: the compound Poisson law summed over the number of draws, with gamma
    draws of 6 L, mixed over a normal mean by quadrature. `draws` is expected in two hours.
    """
    shape = (1.96 / 0.9) ** 2
    points, weights = np.polynomial.hermite_e.hermegauss(40)
    rates = draws * np.maximum(1.0 + points * spread_share / 1.96, 0.0)
    n = np.arange(1, int(3 * draws + 60))[:, None]

    def below(flow: float) -> float:
        volume = max(flow * 7200.0, 0.0)
        given = stats.gamma.cdf(volume, n * shape, scale=6.0 / shape)
        cdf = stats.poisson.pmf(0, rates) + (stats.poisson.pmf(n, rates) * given).sum(axis=0)
        return float((weights * cdf).sum() / weights.sum()) if flow >= 0 else 0.0

    return below(low - 1e-12), 1.0 - below(high)


@pytest.mark.parametrize("spread_share", [0.0, 0.4])
@pytest.mark.parametrize("draws", [3.0, 8.0, 28.0, 300.0])
def test_limits_of_lumpy_use_agree_with_the_exact_law(draws: float, spread_share: float) -> None:
    """50 households make about 28 draws in two hours, ten about 6."""
    mean = draws * 6.0 / 7200.0
    square, third = limits.burst_moments(6.0, spread_share=0.9)
    relative = (spread_share / 1.96) ** 2
    lumps = limits.lumpy_use_deviation_l_s(mean * square, window_h=2.0)
    cubed = limits.lumpy_use_third(
        mean * third, spread_l3_s2=mean**2 * square * relative, window_h=2.0
    )
    found = not_below_zero(
        limits.skewed_limits(mean, np.hypot(lumps, mean * np.sqrt(relative)), cubed)
    )
    below, above = outside(
        float(found.low), float(found.high), draws=draws, spread_share=spread_share
    )
    assert above == pytest.approx(0.025, abs=0.005)
    # Below, the law of few draws has a lump at nothing at all, which no smooth law has.
    assert below == pytest.approx(0.025, abs=0.005) or (draws < 5 and below < 0.05)
    assert found.high - found.value > found.value - found.low > 0


def test_normal_limits_would_be_wrong_for_few_draws() -> None:
    mean = 8.0 * 6.0 / 7200.0
    square, _ = limits.burst_moments(6.0, spread_share=0.9)
    half = 1.96 * float(limits.lumpy_use_deviation_l_s(mean * square, window_h=2.0))
    below, above = outside(mean - half, mean + half, draws=8.0, spread_share=0.0)
    assert above > 0.035
    assert below < 0.012


@pytest.mark.parametrize("skewness", [-2.0, -0.7, -1e-5, 0.0, 0.3, 1.0, 2.0])
def test_skewed_limits_agree_with_pearsons_law(skewness: float) -> None:
    # Independent reference: the quantiles of scipy's Pearson type III.
    found = limits.skewed_limits(5.0, 2.0, skewness * 8.0)
    law = stats.pearson3(skewness, loc=5.0, scale=2.0)
    assert (found.low, found.high) == pytest.approx((law.ppf(0.025), law.ppf(0.975)), abs=0.08)


def test_no_spread_has_no_limits_whatever_its_third_moment() -> None:
    assert tuple(map(float, limits.skewed_limits(1.0, 0.0, 3.0))) == (1.0, 1.0, 1.0)


def test_moments_of_lumpy_use_agree_with_drawn_bursts() -> None:
    # Independent reference: gamma draws of 8 L at Poisson times, about means that differ by 20 %.
    rng = np.random.default_rng(3)
    seconds, mean_l_s, burst_l, spread_share = 7200, 0.05, 8.0, 0.4
    shape = (1.96 / 0.9) ** 2
    about = mean_l_s * (1 + rng.normal(0, spread_share / 1.96, 400_000))
    counts = rng.poisson(about * seconds / burst_l)
    flow = rng.gamma(shape * np.maximum(counts, 1e-9), burst_l / shape) / seconds
    square, third = limits.burst_moments(burst_l, spread_share=0.9)
    lumps = limits.lumpy_use_deviation_l_s(mean_l_s * square, window_h=2.0)
    relative = (spread_share / 1.96) ** 2
    cubed = limits.lumpy_use_third(
        mean_l_s * third, spread_l3_s2=mean_l_s**2 * square * relative, window_h=2.0
    )
    assert np.mean(flow) == pytest.approx(mean_l_s, rel=0.01)
    assert np.std(flow) == pytest.approx(float(np.hypot(lumps, mean_l_s * relative**0.5)), rel=0.01)
    assert stats.moment(flow, 3) == pytest.approx(float(cubed), rel=0.03)
