"""Spots by stretch and along each."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest

from district.locate.spots import Spots
from district.locate.walk import quantiles_m, walk_of, whole_walk
from tests.locate.streets import walk


@pytest.fixture
def parts() -> Spots:
    """Parts of pipe A, 20 m each with two spots, the tenth before the second by its letters."""
    pipe = np.repeat([0, 1, 2], 2)
    return Spots(
        pipe=pipe,
        share=np.tile([0.25, 0.75], 3),
        length_m=np.full(6, 10.0),
        cell_id=np.full(6, "V1"),
        x_m=np.zeros(6),
        y_m=np.zeros(6),
        leaks_per_year=np.ones(6),
        service_share=np.zeros(6),
    )


def test_parts_follow_each_other_as_they_are_numbered(parts: Spots) -> None:
    names = pd.Index(["A/1", "A/10", "A/2"])
    whole = whole_walk(parts, names, np.array([0, 0, 0]))
    assert list(whole.spot) == [0, 1, 4, 5, 2, 3]
    np.testing.assert_allclose(whole.begin_m, np.arange(0, 60, 10))
    assert list(whole.length_m()) == [60.0]


def test_some_stretches_alone_keep_their_numbers(parts: Spots) -> None:
    whole = whole_walk(parts, pd.Index(["A", "B", "C"]), np.array([0, 1, 2]))
    some = walk_of(whole, np.array([True, False, True]))
    assert list(some.spot) == [0, 1, 4, 5]
    assert list(some.stretch) == [0, 0, 1, 1]
    assert list(some.stretch_number) == [0, 2]
    assert list(some.begin_m) == [0, 10, 0, 10]


def test_quantiles_along_a_stretch_are_those_of_a_spread_even_within_spots() -> None:
    street = walk([40.0, 30.0, 20.0])
    probability = np.array([0.1, 0.0, 0.3, 0.0, 0.2, 0.2, 0.2, 0.0, 0.0])
    quarter, middle = quantiles_m(street, probability, (0.25, 0.5))
    # 0.1 in the first 10 m and 0.3 from 20 to 30 m; even over 30 m; nothing known of the third.
    np.testing.assert_allclose(quarter, [10.0, 7.5, 5.0])
    np.testing.assert_allclose(middle, [20 + 10 / 3, 15.0, 10.0])


def test_quantiles_of_tiny_probabilities_are_as_exact() -> None:
    street = walk([100.0, 100.0])
    probability = np.concatenate([np.full(10, 0.1), np.full(10, 1e-250)])
    np.testing.assert_allclose(quantiles_m(street, probability, (0.5,)), [[50.0, 50.0]])
