"""Tests of `district.hydraulics.tanks`."""

from __future__ import annotations

import numpy as np
import pytest

from district.hydraulics import State, Tanks, solve
from district.hydraulics.model import Flags
from district.hydraulics.tanks import allowed, gained_l_s, run_levels, with_tanks
from tests.hydraulics.networks import network

MODEL = network({0: 50.0}, [0.0, 0.0, 40.0], [(0, 1), (1, 2)])
TANKS = Tanks(np.array([2]), np.array([10.0]), np.array([1.0]), np.array([4.0]), np.array([2.0]))


def run(level: float, drawn: float, idle: bool) -> tuple[State, list[bool]]:
    def balance(idle: Flags) -> State:
        now = with_tanks(MODEL, TANKS, np.array([level]), idle)
        return solve(now, np.array([0.0, drawn, 0.0]))

    state, found = allowed(balance, MODEL, TANKS, np.array([level]), np.array([idle]))
    return state, found.tolist()


def test_a_tank_holds_its_level_an_idle_one_does_not() -> None:
    assert with_tanks(MODEL, TANKS, np.array([2.0]), np.array([False])).fixed_head_m[2] == 42.0
    assert np.isnan(with_tanks(MODEL, TANKS, np.array([2.0]), np.array([True])).fixed_head_m[2])


def test_what_comes_and_does_not_leave_is_gained() -> None:
    state = solve(MODEL, np.array([1.0, 2.0, 3.0]))
    assert gained_l_s(MODEL, state) == pytest.approx([-6.0, 0.0, 0.0], abs=1e-9)


@pytest.mark.parametrize(
    ("level", "drawn", "idle", "idles", "way"),
    [
        (2.0, 0.0, True, False, 1),  # neither full nor empty: it fills
        (4.0, 0.0, False, True, 0),  # full, and would fill
        (4.0, 0.0, True, True, 0),
        (4.0, 40.0, True, False, -1),  # full, and the pipes fall below it
        (1.0, 40.0, False, True, 0),  # empty, and would drain
        (1.0, 40.0, True, True, 0),
        (1.0, 0.0, True, False, 1),  # empty, and the pipes rise above it
    ],
)
def test_full_tanks_do_not_fill_nor_empty_ones_drain(
    level: float, drawn: float, idle: bool, idles: bool, way: int
) -> None:
    state, found = run(level, drawn, idle)
    assert found == [idles]
    assert np.sign(round(gained_l_s(MODEL, state)[2], 9)) == way


def test_levels_run_until_the_first_tank_comes_to_its_end() -> None:
    two = Tanks(
        np.array([1, 2]), np.array([10.0, 20.0]), np.array([0.0, 1.0]), np.array([5.0, 4.0]),
        np.array([2.0, 2.0]),
    )  # fmt: skip
    level = np.array([2.0, 2.0])
    # The second would be full after 40 m3 at 10 L/s.
    assert run_levels(two, level, np.array([-2.0, 10.0]), 5000.0) == (
        4000.0,
        pytest.approx([1.2, 4.0]),
    )
    assert run_levels(two, level, np.array([-2.0, 10.0]), 1000.0) == (
        1000.0,
        pytest.approx([1.8, 2.5]),
    )
    assert run_levels(two, level, np.zeros(2), 1000.0)[1].tolist() == [2.0, 2.0]
