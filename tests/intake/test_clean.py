from __future__ import annotations

import math

import numpy as np
import pytest

from district.intake.clean import (
    is_reset,
    jumps,
    resolution,
    rolled,
    spikes,
    stuck,
    usable_register,
    usual_steps,
)


@pytest.fixture
def flow() -> np.ndarray:
    rng = np.random.default_rng(7)
    hours = np.arange(500)
    return np.round(2 + np.sin(hours / 4) + rng.normal(0, 0.1, 500), 2)


def test_usual_steps_follow_a_new_setting() -> None:
    steps = np.concatenate([np.full(100, 0.25), np.ones(100)])
    steps[50] = 9.0
    usual = usual_steps(steps)
    assert set(usual) == {0.25, 1.0}
    assert usual[50] == 0.25
    assert usual_steps(np.array([1.0, 1.0, 5.0])).tolist() == [1, 1, 1]


@pytest.mark.parametrize(
    ("values", "step"),
    [
        ([10.0, 12.5, 15.0, 20.0, 22.5, 25.0, 40.0, 50.0], 2.5),
        ([0.12, 0.15, 0.18, 0.27, 0.3, 0.33, 0.36, 0.39], 0.03),
        ([1.0, 3.0], 1.0),
        ([1 / 3, 2 / 3, 1.5], 1 / 3),
    ],
)
def test_the_smallest_step(values: list[float], step: float) -> None:
    assert resolution(np.array(values)) == pytest.approx(step)


def test_a_single_value_has_no_step() -> None:
    assert math.isnan(resolution(np.array([2.0, 2.0])))


@pytest.mark.parametrize("value", [60.0, -60.0, 65535.0])
@pytest.mark.parametrize("length", [1, 2])
def test_a_lone_spike_is_found(flow: np.ndarray, value: float, length: int) -> None:
    flow[200 : 200 + length] = value
    assert np.flatnonzero(spikes(flow)).tolist() == list(range(200, 200 + length))


def test_what_lasts_is_no_spike(flow: np.ndarray) -> None:
    flow[200:203] = 60.0
    assert not spikes(flow).any()


def test_usual_peaks_are_no_spikes() -> None:
    rng = np.random.default_rng(3)
    household = np.where(rng.random(700) < 0.1, rng.uniform(0.01, 0.12, 700), 0.0)
    assert not spikes(household).any()
    assert not spikes(np.array([1.0, 100.0])).any()
    seldom_home = np.where(rng.random(9000) < 0.005, rng.uniform(0.001, 0.03, 9000), 0.0)
    assert not spikes(seldom_home).any()


def test_a_jump_of_pressure(flow: np.ndarray) -> None:
    pressure = 40 + flow
    pressure[100], pressure[300] = 0.0, 120.0
    assert np.flatnonzero(jumps(pressure, least_m=20.0)).tolist() == [100, 300]
    pressure[100:104] = 0.0
    assert np.flatnonzero(jumps(pressure, least_m=20.0)).tolist() == [300]


def test_a_stuck_meter(flow: np.ndarray) -> None:
    hours = np.ones(500)
    flow[100:104] = 2.345
    assert np.flatnonzero(stuck(flow, hours, step=0.001)).tolist() == [100, 101, 102, 103]


def test_two_hours_alike_are_not_stuck(flow: np.ndarray) -> None:
    flow[100:102] = 2.345
    assert not stuck(flow, np.ones(500), step=0.001).any()


def test_no_flow_is_not_stuck() -> None:
    assert not stuck(np.zeros(100), np.ones(100), step=0.01).any()


def test_a_coarse_meter_is_not_stuck() -> None:
    night = np.tile([0.3] * 8 + [0.5, 0.8, 1.1, 0.9], 20)
    assert not stuck(night, np.full(len(night), 0.5), step=0.1).any()


def test_a_meter_that_often_repeats_itself_is_not_stuck() -> None:
    rng = np.random.default_rng(5)
    steady = np.round(np.cumsum(rng.choice([-0.01, 0, 0, 0, 0.01], 2000)) + 5, 2)
    steady[0] = 5.0
    assert stuck(steady, np.ones(2000), step=0.01).mean() < 0.05


@pytest.mark.parametrize(
    ("before", "after", "rollover", "volume"),
    [
        (99_990.0, 15.0, 100_000.0, 25.0),
        (9_995.5, 4.5, math.nan, 9.0),
        (85_000.0, 100.0, 100_000.0, 15_100.0),
        (85_000.0, 100.0, math.nan, math.nan),
        (99_990.0, 50_000.0, 100_000.0, math.nan),
        (12.0, 3.0, math.nan, math.nan),
        (990.0, 3.0, math.nan, 13.0),
    ],
)
def test_rollover(before: float, after: float, rollover: float, volume: float) -> None:
    assert rolled(before, after, rollover=rollover) == pytest.approx(volume, nan_ok=True)


@pytest.mark.parametrize(
    ("change", "dropped"),
    [
        ({}, []),
        ({20: 0.0}, [20]),
        ({20: 0.0, 21: 0.0, 22: 0.0}, [20, 21, 22]),
        ({20: 9_000.0}, [20]),
        ({20: 1_000.0 + 19 * 2 - 1}, [20]),
    ],
)
def test_misread_registers(change: dict[int, float], dropped: list[int]) -> None:
    values = 1_000.0 + 2.0 * np.arange(60)
    for at, value in change.items():
        values[at] = value
    keep = usable_register(np.arange(60.0), values, rollover=math.nan)
    assert np.flatnonzero(~keep).tolist() == dropped


@pytest.mark.parametrize("top", [math.nan, 10_000.0])
def test_a_new_meter_and_a_rollover_are_not_misread(top: float) -> None:
    hours = np.arange(60.0)
    replaced = np.concatenate([5_000 + 2.0 * np.arange(30), 3 + 2.0 * np.arange(30)])
    turned = (9_960 + 2.0 * hours) % 10_000
    assert usable_register(hours, replaced, rollover=top).all()
    assert usable_register(hours, turned, rollover=top).all()


def test_reset_or_error() -> None:
    assert is_reset(1_000.0, 3.0, 2.0)
    assert is_reset(1_000.0, 700.0, 2.0)
    assert not is_reset(1_000.0, 999.0, 2.0)


@pytest.mark.parametrize("typed", [0.0, 312.0, 31_199.0])
def test_a_nought_among_quarterly_readings_is_no_new_meter(typed: float) -> None:
    hours = 24.0 * np.array([1, 95, 178, 272, 362])
    values = np.array([237_490, 275_531, typed, 348_178, 384_370])
    assert usable_register(hours, values, rollover=1e6).tolist() == [True, True, False, True, True]


def test_a_new_meter_read_quarterly_stays() -> None:
    hours = 24.0 * np.array([1, 95, 178, 272, 362])
    replaced = np.array([237_490.0, 275_531, 312, 36_500, 72_700])
    assert usable_register(hours, replaced, rollover=math.nan).all()
