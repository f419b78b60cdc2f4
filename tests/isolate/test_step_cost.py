"""Tests of `district.isolate.step_cost`."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.stats import norm

from district.hydraulics.stepping import NightUse
from district.isolate.step_cost import RANKS, cost_m, ranked, walk_m, weighed, wrong_share
from tests.isolate.step_zones import chance_weighing, chance_zone


def test_of_two_pipes_the_likely_one_is_walked_first() -> None:
    """By hand: 100 m with 0.8 and 300 m with 0.2: 0.8 x 50 + 0.2 x (100 + 150) = 90 m."""
    use = NightUse(np.zeros(2), np.zeros(2), np.zeros(2))
    found = weighed(
        np.array([0, 1]),
        np.array([0.8, 0.2]),
        np.array([100.0, 300.0]),
        use,
        flow_l_s=1.0,
        read_sd_l_s=0.001,
    )
    assert walk_m(found.features.sum(axis=0)) == pytest.approx(90.0)
    # Told apart for certain: 0.8 x 50 + 0.2 x 150.
    assert cost_m(found, found.features).sum() == pytest.approx(70.0)
    order, before = ranked(np.array([0.2, 0.8]), np.array([300.0, 100.0]))
    assert order.tolist() == [1, 0]
    assert before.tolist() == [0.0, 100.0]


def test_the_wrong_of_two_is_told_as_often_as_a_normal_says() -> None:
    """Limit halfway between two normals of one width: overlap by general statistics (SciPy)."""
    zone = chance_zone(np.random.default_rng(1), count=5, loops_count=0)
    found = chance_weighing(np.random.default_rng(1), zone, flow_l_s=0.2)
    features = found.features[2]
    sd = float(np.sqrt(0.03**2 + features[-2] + features[-1] ** 2 + 0.001**2))
    assert wrong_share(found, features) == pytest.approx(norm.sf(0.1, 0.0, sd))


def test_more_in_a_section_never_costs_less_and_a_cut_never_costs_more() -> None:
    """What branch and bound rests on."""
    rng = np.random.default_rng(7)
    zone = chance_zone(rng, count=40, loops_count=0)
    for flow_l_s in (0.01, 0.2, 5.0):
        found = chance_weighing(rng, zone, flow_l_s=flow_l_s)
        for _ in range(200):
            one, other = rng.random((2, 40)) < rng.uniform(0.05, 0.6)
            a, b = (found.features[s].sum(axis=0) for s in (one & ~other, other))
            assert cost_m(found, a + b) >= cost_m(found, a) + cost_m(found, b) - 1e-9


def test_a_reading_that_tells_nothing_leaves_the_walk_of_the_zone() -> None:
    rng = np.random.default_rng(9)
    zone = chance_zone(rng, count=6, loops_count=0)
    found = chance_weighing(rng, zone, flow_l_s=1e-9)
    total = found.features.sum(axis=0)
    assert total[2 * RANKS] == pytest.approx(float(walk_m(total)))
    half = (walk_m(found.features).sum() + walk_m(total)) / 2
    assert cost_m(found, found.features).sum() == pytest.approx(float(half), rel=1e-6)


def test_without_a_probability_it_goes_by_length() -> None:
    use = NightUse(np.zeros(1), np.zeros(1), np.zeros(1))
    found = weighed(
        np.array([0, 0, -1]),
        np.array([np.nan, 0.0, 5.0]),
        np.array([100.0, 300.0, 9.0]),
        use,
        flow_l_s=1.0,
        read_sd_l_s=0.01,
    )
    assert found.features[0, :RANKS].sum() == pytest.approx(1.0)
    assert walk_m(found.features[0]) == pytest.approx(200.0)
