"""Shifts and their noise against draws with known variance."""

from __future__ import annotations

import numpy as np
import pytest

from district.balance.shifts import Noise, alike, mean_after, noise, tamed, without_rhythm


def test_a_lone_spike_is_tamed_and_a_step_is_not() -> None:
    values = np.zeros((100, 2))
    values[60, 0] = 50.0
    values[50:, 1] = 2.0
    found = tamed(values, Noise(np.full(2, 0.01), np.zeros(2)))
    assert found[60, 0] == pytest.approx(0.35)
    assert (found[:, 1] == values[:, 1]).all()


def test_noise_is_found_beside_steps_and_drift_only_where_settled() -> None:
    rng = np.random.default_rng(2)
    quiet = rng.normal(0.0, 0.05, (365, 60))
    stepped = quiet.copy()
    stepped[200:] += 1.0
    prior = np.full(60, 0.01)
    for values in (quiet, stepped):
        made = noise(values, floor_l_s=prior / 100, drift_l_s=prior, settled=True)
        assert np.median(np.sqrt(made.white)) == pytest.approx(0.05, rel=0.2)
    drifting = quiet + np.cumsum(rng.normal(0, 0.02, (365, 60)), axis=0)
    found = noise(drifting, floor_l_s=prior / 100, drift_l_s=prior, settled=True)
    assert np.median(np.sqrt(found.drift)) == pytest.approx(0.02, rel=0.35)
    early = noise(drifting, floor_l_s=prior / 100, drift_l_s=prior, settled=False)
    assert early.drift == pytest.approx(prior**2 / 100)


def test_noise_never_falls_below_its_floor() -> None:
    made = noise(np.zeros((50, 3)), floor_l_s=np.full(3, 0.1), drift_l_s=np.zeros(3), settled=True)
    assert made.white == pytest.approx(0.01)


def test_weekday_rhythm_and_what_metered_users_show_are_taken_out() -> None:
    rng = np.random.default_rng(5)
    days = np.arange(140)
    share = 0.05 * rng.normal(size=140)
    values = 0.5 + 0.2 * (days % 7 >= 5)[:, None] * np.ones(3) + share[:, None] * np.ones(3)
    values = values + rng.normal(0, 0.002, values.shape)
    even = without_rhythm(values, scale_l_s=np.ones(3), first_weekday=0, metered_share=share)
    assert even.std(axis=0).max() < 0.02
    left = without_rhythm(values, scale_l_s=np.ones(3), first_weekday=0, metered_share=0 * share)
    assert left.std(axis=0).min() > 0.03


def test_what_is_common_to_many_cells_is_taken_out_and_a_leak_in_one_is_not() -> None:
    rng = np.random.default_rng(6)
    common = np.cumsum(rng.normal(0, 0.03, 200))
    values = common[:, None] + rng.normal(0, 0.01, (200, 8))
    values[120:, 2] += 1.0
    even = without_rhythm(
        values, scale_l_s=np.ones(8), first_weekday=0, metered_share=np.zeros(200)
    )
    assert np.delete(even, 2, axis=1).std(axis=0).max() < 0.05
    assert even[120:, 2].mean() - even[:120, 2].mean() == pytest.approx(1.0, abs=0.1)


def test_night_and_day_that_move_together_are_alike() -> None:
    rng = np.random.default_rng(7)
    shared = np.cumsum(rng.normal(0, 1, (300, 40)), axis=0)
    other = np.cumsum(rng.normal(0, 1, (300, 40)), axis=0)
    assert np.median(alike(shared, shared + 0.1 * other)) == pytest.approx(0.8, abs=0.05)
    assert abs(np.median(alike(shared, other))) < 0.2


def test_the_mean_after_counts_only_what_is_known() -> None:
    values = np.array([[1.0], [np.nan], [3.0]])
    assert mean_after(values)[:, 0] == pytest.approx([2.0, 3.0, 3.0])
    assert mean_after(np.full((3, 1), np.nan)) == pytest.approx(0.0)
