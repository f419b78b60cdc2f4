"""Ordinary nights: like those of ten real areas, and each part with the form it is drawn with."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest

from district.simulate.night_trial_course import Courses, draw_courses

NIGHTS = pd.date_range("2022-01-01", periods=730, freq="D")
SIGMA = 1.4826


def drawn(seed: int, zones_count: int = 6) -> Courses:
    away = np.zeros((2, len(NIGHTS)), dtype=bool)
    return draw_courses(np.random.default_rng(seed), NIGHTS, zones_count, away)


@pytest.fixture(scope="module")
def ordinary() -> pd.DataFrame:
    """The figures of the first year of 60 zones that were also taken of the ten areas."""
    rows = []
    for seed in range(10):
        courses = drawn(seed)
        for flow in (courses.curve_l_s + courses.noise_l_s)[:, :365]:
            nights = pd.Series(flow, NIGHTS[:365])
            middle = nights.rolling(29, center=True, min_periods=10).median()
            rest = nights - middle
            sigma = SIGMA * rest.abs().median()
            by_day = rest.groupby(rest.index.day_of_week).median()
            level = nights.median()
            rows.append(
                {
                    "sigma_share": sigma / level,
                    "correlation": rest.clip(-4 * sigma, 4 * sigma).autocorr(1),
                    "out_share": (rest.abs() > 3 * sigma).mean(),
                    "high": (rest > 4 * sigma).mean(),
                    "low": (rest < -4 * sigma).mean(),
                    "weekday_share": (by_day.max() - by_day.min()) / level,
                    "season_share": (middle.quantile(0.95) - middle.quantile(0.05)) / level,
                }
            )
    return pd.DataFrame(rows)


# What the ten areas show (hourly net inflow of 2021, nights 2 to 4 h; least, median, greatest):
# Alvisi et al. 2025, J. Water Resour. Plann. Manage. 151(10), doi 10.1061/JWRMD5.WRENG-6887, open
# data, CC BY 4.0. Correlations are of the nights as they are, outliers included.
SEEN = {
    "sigma_share": (0.011, 0.042, 0.168),
    "correlation": (-0.07, 0.15, 0.43),
    "out_share": (0.007, 0.04, 0.159),
    "weekday_share": (0.011, 0.028, 0.888),
    "season_share": (0.08, 0.26, 0.84),
}


@pytest.mark.parametrize("figure", list(SEEN))
def test_ordinary_zones_are_like_ten_real_areas(ordinary: pd.DataFrame, figure: str) -> None:
    least, middle, greatest = SEEN[figure]
    own = ordinary[figure]
    assert least < own.median() < greatest
    assert 0.5 < (own.median() + 0.02) / (middle + 0.02) < 2
    assert ((own >= least - 0.05) & (own <= greatest + 0.05)).mean() > 0.8


def test_nights_far_out_are_mostly_high(ordinary: pd.DataFrame) -> None:
    # Of the ten areas all but one have more nights four deviations high than low (same source).
    assert ordinary["high"].mean() > 3 * ordinary["low"].mean()


def test_noise_lies_between_three_and_twenty_percent_of_the_level() -> None:
    share = np.concatenate([(c := drawn(s)).sigma_l_s / c.level_l_s for s in range(10)])
    assert share.min() > 0.02
    assert share.max() < 0.25
    assert share.max() > 2 * share.min()


def test_sigma_is_the_robust_deviation_of_the_noise() -> None:
    courses = drawn(3)
    noise = courses.noise_l_s
    middle = np.median(noise, axis=1, keepdims=True)
    assert courses.sigma_l_s == pytest.approx(SIGMA * np.median(np.abs(noise - middle), axis=1))


def test_zones_of_a_district_share_their_season_in_part() -> None:
    shared = []
    for seed in range(10):
        curves = drawn(seed).curve_l_s
        shared.append(np.corrcoef(curves)[np.triu_indices(len(curves), 1)].mean())
    assert 0.1 < np.mean(shared) < 0.9


def test_holidays_change_the_night_and_others_do_not() -> None:
    away = np.zeros((2, len(NIGHTS)), dtype=bool)
    away[0, 400] = away[1, 500:520] = True
    with_, without = (
        draw_courses(np.random.default_rng(4), NIGHTS, 6, days).curve_l_s
        for days in (away, np.zeros_like(away))
    )
    changed = (with_ != without).all(axis=0)
    assert set(np.flatnonzero(changed)) == {400, *range(500, 520)}


def test_the_same_seed_gives_the_same_nights() -> None:
    assert np.array_equal(drawn(5).curve_l_s, drawn(5).curve_l_s)
    assert np.array_equal(drawn(5).noise_l_s, drawn(5).noise_l_s)
