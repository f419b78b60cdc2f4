"""Tests of `district.hydraulics.levels`."""

from __future__ import annotations

import numpy as np
import pytest

from district.hydraulics.levels import LEAST_SPREAD_M, interpolated_level_m


def test_a_level_is_exact_where_all_agree_and_between_its_neighbours_elsewhere() -> None:
    known = np.array([[0.0, 0.0], [100.0, 0.0], [0.0, 100.0]])
    flat, spread = interpolated_level_m(
        [[40.0, 30.0]], known_x_y_m=known, known_level_m=[7.0, 7.0, 7.0]
    )
    assert flat[0] == pytest.approx(7.0)
    assert spread == LEAST_SPREAD_M
    level, _ = interpolated_level_m(
        [[50.0, 0.0], [1.0, 0.0]], known_x_y_m=known, known_level_m=[10.0, 20.0, np.nan]
    )
    assert level[0] == pytest.approx(15.0)
    assert level[1] == pytest.approx(10.0, abs=0.01)


def test_the_limit_holds_levels_left_out_in_about_95_of_100_places() -> None:
    rng = np.random.default_rng(3)
    place = rng.uniform(0.0, 1000.0, (600, 2))
    ground = 30.0 + 20.0 * np.sin(place[:, 0] / 200.0) + rng.normal(0.0, 1.0, 600)
    level, spread = interpolated_level_m(
        place[:300], known_x_y_m=place[300:], known_level_m=ground[300:]
    )
    assert 0.92 <= (np.abs(level - ground[:300]) <= spread).mean() <= 0.98


def test_without_a_known_level_there_is_none_and_one_alone_tells_no_spread() -> None:
    level, spread = interpolated_level_m(
        [[0.0, 0.0]], known_x_y_m=[[1.0, 1.0]], known_level_m=[np.nan]
    )
    assert np.isnan(level).all()
    assert np.isnan(spread)
    level, spread = interpolated_level_m(
        [[0.0, 0.0]], known_x_y_m=[[1.0, 1.0]], known_level_m=[4.0]
    )
    assert level.tolist() == [4.0]
    assert np.isnan(spread)
