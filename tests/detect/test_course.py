"""What the test knows at its beginning, and what a window holds."""

from __future__ import annotations

import numpy as np
import pytest

from district.detect.course import FIRST_NIGHTS, begun, learn, level_before, opened


def test_a_window_holds_the_nights_before_a_block_and_their_level() -> None:
    flow = np.full((100, 2), 2.0)
    flow[5, 1] = np.nan
    course = begun(flow, np.zeros((100, 9)), False, 3.0, 0.1, (2.0,), (2, 5))
    assert course.ready.tolist() == [FIRST_NIGHTS, FIRST_NIGHTS + 1]
    course.tamed[0, :80] = np.nan_to_num(flow[:80])
    learn(course, 80)
    window = opened(course, 80, 94)
    mean, count = level_before(window, 80 - window.first)
    assert mean == pytest.approx([2.0, 2.0])
    assert count.tolist() == [60.0, 60.0]
