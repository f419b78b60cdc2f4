"""Tests of `district.hydraulics.extended`."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from district.hydraulics import Kind, Model, Openings, Service, Tanks, run_hours, solve, solve_many
from district.hydraulics.model import Reals
from tests.hydraulics.networks import network

HOUR_S = 3600.0
NODES = 4


def tower() -> tuple[Model, Tanks]:
    """A source at 50 m, a street, and a tank of 100 m2 at the far end, 40 m up, 0 to 5 m deep."""
    model = network(
        {0: 50.0}, [0.0, 0.0, 0.0, 40.0], [(0, 1), (1, 2), (2, 3)],
        length_m=500.0, diameter_mm=150.0,
    )  # fmt: skip
    tanks = Tanks(
        np.array([3]), np.array([100.0]), np.array([0.0]), np.array([5.0]), np.array([4.9])
    )
    return model, tanks


def drawn(*at_node_2: float) -> Reals:
    demand = np.zeros((len(at_node_2), NODES))
    demand[:, 2] = at_node_2
    return demand


def test_states_follow_one_another_as_each_alone() -> None:
    model, _ = tower()
    demand = drawn(0.0, 5.0, 2.0)
    course = solve_many(model, demand)
    for t, wanted in enumerate(demand):
        alone = solve(model, wanted)
        assert course.head_m[t] == pytest.approx(alone.head_m, abs=1e-8)
        assert course.flow_l_s[t] == pytest.approx(alone.flow_l_s, abs=1e-8)


def test_no_hours_give_no_states() -> None:
    model, tanks = tower()
    assert solve_many(model, drawn()).head_m.shape == (0, NODES)
    assert run_hours(model, drawn(), step_s=HOUR_S, tanks=tanks).tank_l_s.shape == (0, 1)


def test_a_tank_fills_until_it_is_full_and_the_hour_is_split_there() -> None:
    model, tanks = tower()
    hours = run_hours(model, drawn(0.0, 0.0), step_s=HOUR_S, tanks=tanks)
    # 0.1 m over 100 m2 are 10 m3.
    assert hours.level_m[:, 0].tolist() == [4.9, 5.0, 5.0]
    assert hours.tank_l_s[:, 0] * HOUR_S / 1000.0 == pytest.approx([10.0, 0.0], abs=1e-9)
    assert hours.splits_count == 1
    assert hours.course.head_m[1, 3] == pytest.approx(50.0)


def test_a_full_tank_gives_water_again_when_the_heads_fall() -> None:
    model, tanks = tower()
    hours = run_hours(model, drawn(0.0, 40.0), step_s=HOUR_S, tanks=tanks)
    assert hours.level_m[1, 0] == 5.0
    assert hours.tank_l_s[1, 0] < 0
    assert hours.level_m[2, 0] == pytest.approx(5.0 + hours.tank_l_s[1, 0] * 0.036, abs=1e-9)


def test_an_empty_tank_gives_nothing_more() -> None:
    model, tanks = tower()
    tanks = replace(tanks, level_m=np.array([0.05]))
    hours = run_hours(model, drawn(60.0, 60.0, 0.0), step_s=HOUR_S, tanks=tanks)
    assert hours.level_m[1:3, 0].tolist() == [0.0, 0.0]
    assert hours.tank_l_s[1, 0] == 0.0
    assert hours.source_l_s[1, 0] == pytest.approx(60.0, abs=1e-8)
    assert hours.level_m[3, 0] > 0


def test_a_tank_cut_off_while_empty_leaves_its_streets_dry() -> None:
    model, tanks = tower()
    model = replace(model, is_open=np.array([False, True, True]))
    tanks = replace(tanks, level_m=np.array([0.01]))
    hours = run_hours(model, drawn(10.0, 10.0), step_s=HOUR_S, tanks=tanks)
    assert hours.delivered_l_s[:, 2] * HOUR_S / 1000.0 == pytest.approx([1.0, 0.0], abs=1e-9)
    assert hours.course.reached[1].tolist() == [True, False, False, False]


def test_two_tanks_a_pump_and_leaks_keep_every_drop() -> None:
    model = network(
        {0: 10.0}, [0.0, 0.0, 5.0, 30.0, 25.0], [(0, 1), (1, 2), (2, 3), (2, 4), (1, 4)],
        kind=[Kind.PUMP, *[Kind.PIPE] * 4], length_m=400.0, diameter_mm=150.0,
        pump=[[45.0, 0.02, 2.0], *[[np.nan] * 3] * 4],
    )  # fmt: skip
    tanks = Tanks(
        np.array([3, 4]), np.array([20.0, 30.0]), np.array([0.5, 0.0]), np.array([3.0, 4.0]),
        np.array([2.5, 1.0]),
    )  # fmt: skip
    openings = Openings(
        "power", np.array([0.0, 0.1, 0.1, 0.0, 0.0]), np.full(5, 1.1), np.zeros(5), np.zeros(5)
    )
    demand = np.zeros((24, 5))
    demand[:, 2] = 12.0 + 10.0 * np.sin(np.arange(24) / 24 * 2 * np.pi)
    hours = run_hours(
        model, demand, step_s=HOUR_S, tanks=tanks, openings=openings, service=Service()
    )
    stored = (hours.level_m[1:] - hours.level_m[:-1]) * tanks.area_m2 * 1000.0 / HOUR_S
    assert hours.tank_l_s == pytest.approx(stored, abs=1e-9)
    lost = hours.delivered_l_s.sum(axis=1) + hours.leaked_l_s.sum(axis=1) + stored.sum(axis=1)
    assert hours.source_l_s.sum(axis=1) == pytest.approx(lost, abs=1e-7)
    assert (hours.level_m >= tanks.lowest_m).all()
    assert (hours.level_m <= tanks.highest_m).all()
    assert hours.splits_count > 0
