"""Parts of a pipe joined again for people."""

from __future__ import annotations

import numpy as np
import pandas as pd

from district.locate.stretches import stretch_of_parts, summed


def test_parts_in_one_zone_are_one_stretch() -> None:
    pipe = pd.Series(["P1", "P1", "P2", "P2"], index=["P1/1", "P1/2", "P2/1", "P2/2"])
    cell = pd.Series(["A", "A", "A", "B"], index=pipe.index)
    assert stretch_of_parts(pipe, cell).to_dict() == {
        "P1/1": "P1",
        "P1/2": "P1",
        "P2/1": "P2 in A",
        "P2/2": "P2 in B",
    }


def test_sums_go_by_stretch() -> None:
    stretch = np.array([1, 0, 1])
    np.testing.assert_array_equal(summed(np.array([1.0, 2.0, 4.0]), stretch, 2), [2.0, 5.0])
    draws = np.array([[1.0, 2.0], [3.0, 4.0], [5.0, 6.0]])
    np.testing.assert_array_equal(summed(draws, stretch, 2), [[3.0, 4.0], [6.0, 8.0]])
