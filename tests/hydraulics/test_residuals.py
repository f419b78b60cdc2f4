"""Tests of `district.hydraulics.residuals`."""

from __future__ import annotations

import numpy as np
import pytest

from district.hydraulics import Kind, Openings, Service, pattern_of
from district.hydraulics.outlets import Runs
from district.hydraulics.residuals import Guess, factors_at, residuals, scene_of
from district.hydraulics.valves import Doing
from tests.hydraulics.networks import network

MODEL = network(
    {0: 50.0}, [0.0, 0.0, 0.0, 0.0], [(0, 1), (1, 2), (2, 3)],
    kind=[Kind.PIPE, Kind.REDUCING, Kind.PIPE], length_m=[100.0, 0.0, 100.0],
    setting_m=[np.nan, 20.0, np.nan],
)  # fmt: skip
DEMAND = np.array([0.0, 1.0, -0.5, 2.0])


def test_what_no_open_way_reaches_is_out_of_the_scene() -> None:
    shut = network({0: 50.0}, [0.0] * 3, [(0, 1), (1, 2)], is_open=[True, False])
    scene = scene_of(shut, np.ones(3), None, None, pattern_of(shut))
    assert scene.given_l_s.tolist() == [1.0, 1.0, 0.0]
    assert scene.sought.tolist() == [False, True, False]
    assert scene.alive.tolist() == [True, False]


def test_only_inflow_is_given_where_users_depend_on_pressure() -> None:
    scene = scene_of(MODEL, DEMAND, None, Service(), pattern_of(MODEL))
    assert scene.given_l_s.tolist() == [0.0, 0.0, -0.5, 0.0]
    assert scene.outlets.most_l_s.tolist() == [1.0, 2.0]


def test_a_guess_misses_heads_and_flows_by_what_its_links_lack() -> None:
    openings = Openings("power", np.full(4, 0.1), np.full(4, 1.0), np.zeros(4), np.zeros(4))
    scene = scene_of(MODEL, DEMAND, openings, None, pattern_of(MODEL))
    guess = Guess(
        np.array([3.0, 2.0, 1.0]),
        np.array([50.0, 45.0, 21.0, 19.0]),
        np.array([5.0, 4.0, 2.0, 0.0]),
        np.array([Doing.PASSING, Doing.HOLDING, Doing.STOPPED]),
        np.array([Runs.PARTLY, Runs.PARTLY, Runs.PARTLY, Runs.DRY]),
    )
    at = residuals(scene, guess)
    lost = 10.667 * 100.0 * 0.003**1.852 / (100.0**1.852 * 0.1**4.871)
    assert at.energy_m == pytest.approx([lost - 5.0, 1.0, 0.0])
    # Node 1: 3 in, 2 on, 1 drawn, 4 leaked; node 2: 2 in, 1 on, 0.5 put in, 2 leaked.
    assert at.mass_l_s == pytest.approx([0.0, -4.0, -0.5, -1.0])
    assert at.outlet_m == pytest.approx([0.0, -5.0, -1.0, 0.0])
    assert (at.conductance > 0).tolist() == [True, True, False]
    assert (at.forward > 0).tolist() == [True, False, False]
    assert (at.outlet_conductance > 0).tolist() == [True, True, True, False]
    assert at.largest_m() == 5.0
    assert at.largest_l_s() == 4.0


def test_the_factors_take_in_outlets_and_leave_out_what_is_not_sought() -> None:
    model = network({0: 50.0}, [0.0] * 3, [(0, 1), (1, 2)], is_open=[True, False])
    openings = Openings("power", np.full(3, 0.1), np.full(3, 1.0), np.zeros(3), np.zeros(3))
    scene = scene_of(model, np.zeros(3), openings, None, pattern_of(model))
    guess = Guess(
        np.array([3.0, 0.0]), np.array([50.0, 40.0, 0.0]), np.array([5.0, 4.0]),
        np.array([Doing.PASSING, Doing.DEAD]), np.array([Runs.PARTLY, Runs.PARTLY]),
    )  # fmt: skip
    at = residuals(scene, guess)
    rows = scene.pattern.place[1:]
    one = np.empty(2)
    one[rows] = [1.0, 1.0]
    found = factors_at(scene, at).solve(one)[rows]
    assert found == pytest.approx([1.0 / (at.conductance[0] + 0.1), 1.0])
