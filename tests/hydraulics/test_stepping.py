"""Tests of `district.hydraulics.stepping`."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pandas as pd
import pytest
from scipy.stats import triang

from district.hydraulics.stepping import (
    NightUse,
    read_limit_l_s,
    scaled,
    section_use,
    step_l,
)
from district.settings import Settings
from tests.isolate.towns import town

NETWORK = town()


def test_use_and_background_add_up_over_sections() -> None:
    """63 properties of 1.7 L/h; 0.7 km of 20 L/km/h and 6 connections of 1.25 L/h, times 1.5."""
    by_pipe = pd.Series(0, index=NETWORK.pipes.index)
    whole = section_use(NETWORK, by_pipe, 1, settings=Settings())
    assert whole.use_l_s[0] * 3600 == pytest.approx(63 * 1.7 + 1.5 * (0.7 * 20 + 6 * 1.25))
    halves = pd.Series(np.arange(len(NETWORK.pipes)) % 2, index=NETWORK.pipes.index)
    two = section_use(NETWORK, halves, 2, settings=Settings())
    assert two.use_l_s.sum() == pytest.approx(whole.use_l_s[0])
    # Draws are independent of each other, what is known of the mean is not.
    assert (two.drawn_sd_l_s**2).sum() == pytest.approx(whole.drawn_sd_l_s[0] ** 2)
    assert np.hypot(*two.known_sd_l_s) <= whole.known_sd_l_s[0] <= two.known_sd_l_s.sum()
    assert whole.sd_l_s()[0] == pytest.approx(
        np.hypot(whole.known_sd_l_s[0], whole.drawn_sd_l_s[0])
    )
    none = section_use(NETWORK, by_pipe - 1, 1, settings=Settings())
    assert none.use_l_s[0] == 0.0


def test_the_limit_of_a_counted_volume_is_that_of_a_triangle() -> None:
    """The difference of two even errors of one step has a triangular distribution about 0 (general
    statistics, SciPy's `triang`); 95 % of it lie within 0.776 steps."""
    limit = triang.ppf(0.975, 0.5, loc=-1.0, scale=2.0)
    got = read_limit_l_s(0.0, step_l=100.0, interval_s=900.0)
    assert float(got) == pytest.approx(limit * 100.0 / 900.0, rel=1e-9)
    drawn = np.random.default_rng(1).uniform(0, 1, (2, 200_000))
    inside = np.mean(np.abs(drawn[0] - drawn[1]) <= limit)
    assert inside == pytest.approx(0.95, abs=0.003)
    assert float(read_limit_l_s(10.0, step_l=0.0, interval_s=900.0)) == pytest.approx(0.2)


def test_the_coarsest_meter_into_the_zone_counts() -> None:
    bounds = pd.DataFrame(
        {
            "meter_id": ["M1", "M2", "M3"],
            "upstream_cell_id": ["X", "X", "A"],
            "downstream_cell_id": ["A", "A", "B"],
        }
    )
    meters = pd.DataFrame(
        {"litres_per_pulse": [10.0, np.nan, 1000.0], "resolution_l": [np.nan, 100.0, np.nan]},
        index=["M1", "M2", "M3"],
    )
    network = replace(NETWORK, boundaries=bounds, meters=meters)  # type: ignore[arg-type]
    assert step_l(network, "A") == 100.0
    assert step_l(network, "B") == 1000.0
    assert step_l(network, "C") == 0.0


def test_inflow_tells_the_use_as_well_as_it_is_known() -> None:
    use = NightUse(np.array([1.0, 3.0]), np.array([0.3, 0.9]), np.zeros(2))
    sure = scaled(use, rest_l_s=6.0, rest_limit_l_s=0.01)
    vague = scaled(use, rest_l_s=6.0, rest_limit_l_s=50.0)
    assert 5.5 < sure.use_l_s.sum() < 6.0
    assert vague.use_l_s.sum() == pytest.approx(4.0, rel=0.02)
    assert (sure.known_sd_l_s < vague.known_sd_l_s).all()
    assert (sure.known_sd_l_s > 0.1 * sure.use_l_s).all()  # sections lie apart from their zone
    assert scaled(use, rest_l_s=np.nan, rest_limit_l_s=1.0) is use
    assert scaled(use, rest_l_s=0.1, rest_limit_l_s=0.01) is use
    assert scaled(use, rest_l_s=500.0, rest_limit_l_s=0.01).use_l_s.sum() <= 12.0


def test_limits_of_scaled_use_hold_the_truth() -> None:
    """Drawn as assumed: one factor for the zone, each section apart from it by 15 %."""
    rng = np.random.default_rng(3)
    use = NightUse(np.full(5, 1.0), np.full(5, 0.3), np.full(5, 0.05))
    held = []
    for _ in range(400):
        factor = max(1 + 0.3 * rng.normal(), 0.2)
        true = factor * (1 + 0.15 * rng.normal(size=5))
        drawn = true + 0.05 * np.sqrt(factor) * rng.normal(size=5)
        found = scaled(use, rest_l_s=float(drawn.sum()), rest_limit_l_s=0.05)
        held.append(np.abs(drawn - found.use_l_s) <= 1.96 * found.sd_l_s())
    assert 0.92 <= np.mean(held) <= 0.99
