from __future__ import annotations

import numpy as np
import pytest
from shapely.affinity import translate
from shapely.geometry import LineString

from district.network.touches import own_tees

LOLLIPOP = LineString([(0, 0), (10, 0), (10, 6), (4, 6), (4, 0.2)])


def _found(*lines: LineString) -> list[tuple[int, float, int]]:
    return own_tees(np.array(lines, dtype=object), tolerance_m=0.5)


@pytest.mark.parametrize(("line", "end", "along"), [(LOLLIPOP, 1, 4.0), (LOLLIPOP.reverse(), 0, 0)])
def test_an_end_that_comes_back_to_its_own_line(line: LineString, end: int, along: float) -> None:
    (tee,) = _found(line)
    assert (tee[0], tee[2]) == (0, end)
    assert tee[1] == pytest.approx(along if end else line.length - 4.0)


def test_lines_are_told_apart() -> None:
    straight = LineString([(0, 0), (5, 0), (6, 0), (9, 0)])
    tees = _found(straight, LOLLIPOP, straight, translate(LOLLIPOP, 1e5, 1e5))
    assert [(t[0], t[2]) for t in tees] == [(1, 3), (3, 7)]


@pytest.mark.parametrize(
    "line",
    [
        LineString([(0, 0), (9, 1), (8, 7), (0, 0)]),  # a ring closes at its ends
        LineString([(0, 0), (9, 1), (8, 7), (0.3, 0.1)]),  # so does one within the tolerance
        LineString([(0, 0), (10, 0), (10, 6), (4, 6), (4, -5)]),  # one that crosses itself
        LineString([(0, 0), (0.2, 0.1), (0.3, 0), (0.4, 0.2), (9, 0)]),  # many corners at an end
        LineString([(0, 0), (1, 0)]),
    ],
)
def test_what_is_no_tee(line: LineString) -> None:
    assert _found(line) == []


def test_no_lines() -> None:
    assert own_tees(np.zeros(0, dtype=object), tolerance_m=0.5) == []
