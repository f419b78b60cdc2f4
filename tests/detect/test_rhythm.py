"""Weekday, season, holidays and what zones share."""

from __future__ import annotations

from datetime import date

import numpy as np
import pandas as pd
import pytest

from district.detect.rhythm import (
    DAY_FEATURES,
    day_features,
    fit_rhythm,
    others_movement,
    rhythm_l_s,
    season_features,
)

AXIS = pd.date_range("2023-01-02", periods=800, freq="D")
RANDOM = np.random.default_rng(5)


def left(flow: np.ndarray, features: np.ndarray, part: np.ndarray | None = None) -> np.ndarray:
    known = np.isfinite(flow)
    part = np.zeros(flow.shape, dtype=int) if part is None else part
    effects = fit_rhythm(flow, known, features, None, part)
    return flow - rhythm_l_s(features, None, effects)


def test_holidays_are_sundays_and_vacations_keep_their_weekdays() -> None:
    holidays = [(date(2023, 1, 3), date(2023, 1, 3)), (date(2023, 1, 9), date(2023, 1, 15))]
    marks = day_features(AXIS[:14], holidays)
    assert marks.shape == (14, DAY_FEATURES)
    assert marks[1].tolist() == [0, 0, 0, 0, 0, 0, 1, 1, 0]
    assert marks[7].tolist() == [1, 0, 0, 0, 0, 0, 0, 0, 1]


def test_a_weekday_rhythm_is_taken_out_and_quiet_nights_are_left_alone() -> None:
    noise = RANDOM.normal(0, 0.1, (365, 20))
    days = day_features(AXIS[:365], [])
    week = np.where(AXIS[:365].day_of_week >= 5, 1.0, 0.0)[:, None]
    even = left(5 + noise + week, days)
    weekend = AXIS[:365].day_of_week >= 5
    assert even[weekend].mean() - even[~weekend].mean() == pytest.approx(0.0, abs=0.05)
    assert np.abs(left(5 + noise, days) - 5 - noise).max() < 0.06


def test_a_season_is_taken_out_after_a_full_year_and_not_before() -> None:
    features = np.column_stack([day_features(AXIS, []), season_features(AXIS)])
    wave = np.sin(2 * np.pi * np.arange(800) / 365.25)[:, None]
    flow = 5 + wave + RANDOM.normal(0, 0.1, (800, 5))
    assert left(flow, features).std() < 0.2
    assert left(flow[:300], features[:300]).std() == pytest.approx(flow[:300].std(), rel=0.1)


def test_a_long_leak_found_is_not_taken_for_a_season() -> None:
    features = np.column_stack([day_features(AXIS, []), season_features(AXIS)])
    leak = np.where(np.arange(800) >= 600, 3.0, 0.0)[:, None]
    flow = 5 + leak + RANDOM.normal(0, 0.1, (800, 1))
    part = (leak > 0).astype(int)
    effects = fit_rhythm(flow - leak, np.isfinite(flow), features, None, part)
    even = flow - rhythm_l_s(features, None, effects)
    assert even[600:].mean() - even[500:600].mean() == pytest.approx(3.0, abs=0.1)


def test_a_shared_movement_is_believed_as_far_as_it_helps() -> None:
    common = RANDOM.normal(size=(300, 2))
    flow = 5 + RANDOM.normal(0, 0.3, (300, 2))
    flow[:, 0] += common[:, 0]
    days = day_features(AXIS[:300], [])
    part = np.zeros(flow.shape, dtype=int)
    effects = fit_rhythm(flow, np.isfinite(flow), days, common, part)
    assert effects[:, -1] == pytest.approx([1.0, 0.0], abs=0.08)


def test_what_others_do_is_the_mean_of_their_middle_each_left_out() -> None:
    apart = np.array([3.0, 1.0, np.nan, 2.0, -9.0, 1.5, 0.5])
    known = np.flatnonzero(np.isfinite(apart))
    for place in known:
        others = np.sort(apart[[i for i in known if i != place]])
        assert others_movement(apart)[place] == pytest.approx(others[1:-1].mean())


def test_of_two_others_the_smaller_counts_where_they_agree_and_of_one_none() -> None:
    assert others_movement(np.array([2.0, 1.0, -1.0])).tolist() == [0.0, 0.0, 1.0]
    assert others_movement(np.array([2.0, np.nan, 1.0])).tolist() == [0.0, 0.0, 0.0]
