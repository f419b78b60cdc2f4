from __future__ import annotations

import numpy as np
import pytest
import shapely
from shapely.geometry import LineString, Point

from district.plan.along import APART_M, near_lines, points_along


def test_points_stand_in_the_middle_of_equal_steps() -> None:
    owner, points = points_along([LineString([(0, 0), (80, 0)]), LineString([(0, 5), (0, 205)])])
    assert np.bincount(owner).tolist() == [16, 40]
    x = shapely.get_x(points[owner == 0])
    assert x == pytest.approx(np.arange(2.5, 80, 5.0))
    assert shapely.get_y(points[owner == 1]).mean() == pytest.approx(105)


def test_a_short_line_has_some_points_and_a_very_long_one_not_too_many() -> None:
    owner, _ = points_along([LineString([(0, 0), (1, 0)]), LineString([(0, 0), (1e5, 0)])])
    assert np.bincount(owner).tolist() == [8, 400]
    assert APART_M == 5.0


def test_lines_without_length_or_none_at_all_have_no_points() -> None:
    shapes = [None, LineString([(1, 1), (1, 1)]), LineString([(0, 0, 7), (40, 0, 9)])]
    owner, points = points_along(shapes)
    assert set(owner.tolist()) == {2}
    assert not shapely.has_z(points).any()
    assert len(points_along([])[0]) == 0


def test_pairs_within_reach_and_their_gaps() -> None:
    points = np.array([Point(0, 0), Point(0, 100)], dtype=object)
    ways = [LineString([(-5, 3), (5, 3)]), LineString([(-5, -4), (5, -4)])]
    point, way, gap_m = near_lines(points, ways, near_m=4.0)
    found = sorted(zip(point.tolist(), way.tolist(), gap_m.tolist(), strict=True))
    assert found == [(0, 0, 3.0), (0, 1, 4.0)]
