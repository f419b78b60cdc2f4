"""How a zone's day changed, on days drawn from a seed."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest

from district.detect.hours import Hours
from district.detect.profile import UNKNOWN, Shifts, shifts

DAYS = 84
CHANGED = 56
WEEKEND = np.arange(DAYS) % 7 >= 5
SHAPE = 2.0 + np.sin(2 * np.pi * (np.arange(24) - 9) / 24)
NONE = np.zeros(DAYS, dtype=bool)
SPLIT = [(np.arange(CHANGED), np.arange(CHANGED, DAYS))]


def days(seed: int, more: np.ndarray | float = 0.0, *, scatter: float = 0.05) -> np.ndarray:
    rng = np.random.default_rng(seed)
    flow = SHAPE * np.where(WEEKEND, 0.8, 1.0)[:, None] * rng.normal(1, scatter, (DAYS, 24))
    flow[CHANGED:] += more
    return flow


def shifted(flow: np.ndarray, left_out: np.ndarray = NONE, split: object = SPLIT) -> Shifts:
    hours = Hours({"V1": 0}, flow[None].astype(np.float32))
    return shifts(
        hours,
        ["V1"],
        split,  # type: ignore[arg-type]
        scale_l_s=np.array([0.5]),
        weekend=WEEKEND,
        left_out=left_out,
    )


def test_the_change_is_found_by_hour_of_both_kinds_of_day() -> None:
    more = np.linspace(0, 1, 24)
    found = shifted(days(1, more))
    error = np.sqrt(np.diag(found.covariance[0]))
    assert np.abs(found.change_l_s[0] - np.tile(more, 2)).max() < 4 * error.max()
    assert found.before_l_s[0, :24] == pytest.approx(SHAPE, rel=0.05)
    assert found.before_l_s[0, 24:] == pytest.approx(0.8 * SHAPE, rel=0.05)
    assert found.known[0]


def test_errors_hold_the_scatter_of_days() -> None:
    # Over many draws without a change, nine in ten hours or more lie within 1.96 errors.
    held = []
    for seed in range(40):
        found = shifted(days(seed))
        error = np.sqrt(np.diag(found.covariance[0]))
        held.append(np.abs(found.change_l_s[0]) < 1.96 * error)
    assert np.mean(held) > 0.93


def test_a_lone_wild_day_hardly_moves_the_mean() -> None:
    flow = days(3)
    wild = flow.copy()
    wild[10] *= 5
    moved = shifted(wild).change_l_s - shifted(flow).change_l_s
    assert np.abs(moved).max() < 0.03


def test_holidays_are_left_out() -> None:
    flow = days(4)
    flow[20:27] += 3.0
    left_out = NONE.copy()
    left_out[20:27] = True
    assert np.abs(shifted(flow, left_out).change_l_s).max() < 0.25


def test_hours_that_are_not_known_weigh_nothing() -> None:
    flow = days(5, 0.5)
    flow[:, 7] = np.nan
    found = shifted(flow)
    assert found.change_l_s[0, 7] == 0
    assert found.covariance[0, 7, 7] >= UNKNOWN * 0.5**2
    assert np.isfinite(found.before_l_s).all()


def test_without_days_enough_nothing_is_known() -> None:
    assert not shifted(days(6), split=[(np.arange(5), np.arange(CHANGED, DAYS))]).known[0]
    assert not shifted(days(6), split=[(np.arange(CHANGED), np.arange(0))]).known[0]
    other = shifts(
        Hours({}, np.zeros((0, DAYS, 24), dtype=np.float32)),
        ["V1"],
        SPLIT,
        scale_l_s=np.array([0.5]),
        weekend=WEEKEND,
        left_out=NONE,
    )
    assert not other.known[0]


def test_a_meter_that_stands_still_shows_in_the_scatter() -> None:
    flow = days(7)
    assert 0.7 < shifted(flow).steady[0] < 1.4
    flow[CHANGED:] = 3.0
    assert shifted(flow).steady[0] < 0.05


def test_slow_drift_widens_what_follows_the_flow() -> None:
    drift = 1 + 0.1 * np.sin(2 * np.pi * np.arange(DAYS) / 40)
    flat, moving = shifted(days(8)), shifted(days(8) * drift[:, None])
    along = SHAPE / np.linalg.norm(SHAPE)
    variance = [along @ s.covariance[0, :24, :24] @ along for s in (flat, moving)]
    assert variance[1] > 5 * variance[0]


def test_rows_can_be_picked() -> None:
    found = shifted(days(9))
    twice = found.of(np.array([0, 0]))
    assert twice.change_l_s.shape == (2, 48)
    assert pd.Series(twice.known).all()
