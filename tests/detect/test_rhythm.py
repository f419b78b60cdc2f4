"""Weekday, season, holidays and what zones share."""

from __future__ import annotations

from datetime import date

import numpy as np
import pandas as pd
import pytest

from district.detect.rhythm import DAY_FEATURES, day_features, others_movement, season_features

AXIS = pd.date_range("2023-01-02", periods=800, freq="D")


def test_holidays_are_sundays_and_vacations_keep_their_weekdays() -> None:
    holidays = [(date(2023, 1, 3), date(2023, 1, 3)), (date(2023, 1, 9), date(2023, 1, 15))]
    marks = day_features(AXIS[:14], holidays)
    assert marks.shape == (14, DAY_FEATURES)
    assert marks[1].tolist() == [0, 0, 0, 0, 0, 0, 1, 1, 0]
    assert marks[7].tolist() == [1, 0, 0, 0, 0, 0, 0, 0, 1]


def test_season_features_come_back_after_a_year() -> None:
    features = season_features(AXIS)
    assert features.shape == (800, 4)
    np.testing.assert_allclose(features[0], features[365], atol=0.01)
    np.testing.assert_allclose((features**2).mean(axis=0), 0.5, atol=0.1)


def test_what_others_do_is_the_mean_of_their_middle_each_left_out() -> None:
    apart = np.array([3.0, 1.0, np.nan, 2.0, -9.0, 1.5, 0.5])
    known = np.flatnonzero(np.isfinite(apart))
    for place in known:
        others = np.sort(apart[[i for i in known if i != place]])
        assert others_movement(apart)[place] == pytest.approx(others[1:-1].mean())


def test_of_two_others_the_smaller_counts_where_they_agree_and_of_one_none() -> None:
    assert others_movement(np.array([2.0, 1.0, -1.0])).tolist() == [0.0, 0.0, 1.0]
    assert others_movement(np.array([2.0, np.nan, 1.0])).tolist() == [0.0, 0.0, 0.0]
