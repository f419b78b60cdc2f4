"""Whole leak trials: repeatable, and their readings feel the leak where it is."""

from __future__ import annotations

from functools import cache

import numpy as np
import pandas as pd
import pytest

from district.simulate.leak_trial import LeakTrial, draw_leak_trials


@cache
def trials(seed: int = 1, leak_l_s: float = 3.0) -> tuple[LeakTrial, ...]:
    return draw_leak_trials(
        seed, pipes_count=200, loggers_count=8, leak_l_s=leak_l_s, trials_count=2
    )


def change_m(trial: LeakTrial) -> pd.Series:
    """Change of mean pressure by logger between the days before and after the leak's start."""
    after = pd.to_datetime(trial.hourly_pressures["day"]) >= trial.first
    mean = trial.hourly_pressures.groupby(["device_id", after])["pressure_m"].mean().unstack()
    return mean[True] - mean[False]


def test_the_same_seed_gives_the_same_trials() -> None:
    again = draw_leak_trials(1, pipes_count=200, loggers_count=8, leak_l_s=3.0, trials_count=2)
    for first, second in zip(trials(), again, strict=True):
        pd.testing.assert_frame_equal(first.hourly_pressures, second.hourly_pressures)
        pd.testing.assert_frame_equal(first.leaks, second.leaks)
    assert not trials(2)[0].breaks.equals(trials()[0].breaks)


def test_trials_of_one_zone_share_it_but_neither_leak_nor_readings() -> None:
    first, second = trials()
    assert first.network is second.network
    assert not first.leaks.equals(second.leaks)
    assert not first.hourly_pressures.equals(second.hourly_pressures)


def test_truth_and_tables_fit_the_network() -> None:
    trial = trials()[0]
    assert len(trial.roughness) == len(trial.network.pipes)
    assert len(trial.use_l_s) == len(trial.network.connections)
    assert list(trial.offset_m.index) == list(trial.network.sensors.index)
    assert trial.leaks["pipe_id"].isin(trial.network.pipes.index).all()
    read = set(trial.hourly_flows["device_id"])
    assert read == set(trial.network.meters.index)
    assert set(trial.hourly_pressures["device_id"]) == set(trial.network.sensors.index)
    event = trial.events.iloc[0]
    assert event["start_low"] <= trial.first <= event["start_high"]


def test_the_inflow_rises_by_the_leak() -> None:
    rises, sizes = [], []
    for seed in range(4):
        for trial in trials(seed):
            rises.append(float(trial.events["size_l_s"].iloc[0]))
            sizes.append(float(trial.leaks["flow_l_s"].sum()))
    assert np.mean(rises) == pytest.approx(np.mean(sizes), rel=0.1)


def test_heads_fall_with_the_leak_and_most_where_it_is() -> None:
    fell = [change_m(t) for seed in range(4) for t in trials(seed)]
    assert np.mean([f.mean() for f in fell]) < -0.05
    nearer = 0
    for seed in range(4):
        for trial in trials(seed):
            leak = trial.network.pipes.geometry[trial.leaks["pipe_id"].iloc[0]]
            away = trial.network.sensors.geometry.distance(leak)
            nearer += int(change_m(trial)[away.idxmin()] <= change_m(trial).median())
    assert nearer >= 6


def test_one_logger_goes_off_with_the_leak_where_asked_for() -> None:
    how = {"pipes_count": 200, "loggers_count": 8, "leak_l_s": 0.2}
    plain, off = (draw_leak_trials(3, offset_m=m, **how)[0] for m in (0.0, 1.5))
    more = change_m(off) - change_m(plain)
    assert more.max() == pytest.approx(1.5, abs=0.05)
    assert more.drop(more.idxmax()).abs().max() < 0.05


def test_several_leaks_at_once_add_up() -> None:
    trial = draw_leak_trials(4, pipes_count=200, leaks_count=2, leak_l_s=2.0)[0]
    assert len(trial.leaks) == 2
    size = trial.events.iloc[0]
    assert size["size_l_s"] == pytest.approx(trial.leaks["flow_l_s"].sum(), abs=1.0)


def test_a_wrong_valve_is_told_and_changes_heads() -> None:
    how = {"pipes_count": 200, "loggers_count": 8}
    wrong = [draw_leak_trials(seed, wrong_valve=True, **how)[0] for seed in range(3)]
    assert all(t.valve is not None for t in wrong)
    assert all(len(t.network.valves) == 1 for t in wrong)
    assert draw_leak_trials(5, **how)[0].valve is None


def test_the_head_lost_by_day_differs_between_zones() -> None:
    lost = [trials(seed)[0].peak_loss_m for seed in range(4)]
    assert min(lost) > 0.5
    assert max(lost) > 1.5 * min(lost)
