"""Tests of `district.hydraulics.parting`."""

from __future__ import annotations

import numpy as np
import pandas as pd

from district.hydraulics.parting import Parted, parted, standing_node

START, END = np.array([0, 1, 2, 1]), np.array([1, 2, 3, 3])


def _parted(shut: list[int], **valves: tuple[str, int]) -> Parted:
    flags = np.zeros(4, dtype=bool)
    flags[shut] = True
    return parted(
        START,
        END,
        nodes_count=4,
        shut_node=flags,
        valves=pd.DataFrame(
            {"valve_id": list(valves), "kind": [kind for kind, _ in valves.values()]}
        ),
        valve_node=np.array([node for _, node in valves.values()], dtype=np.int64),
    )


def test_a_shut_valve_gives_each_pipe_a_node_of_its_own() -> None:
    found = _parted([2])
    assert found.parent.tolist() == [2]
    assert sorted([found.end[1], found.start[2]]) == [2, 4]
    assert found.valve.tolist() == []
    found = _parted([1])
    assert found.parent.tolist() == [1, 1]
    assert len({found.end[0], found.start[1], found.start[3]}) == 3


def test_an_acting_valve_becomes_a_link_between_its_two_sides() -> None:
    found = _parted([], R=("pressure_reducing", 2), O=("isolation", 3))
    assert found.valve.tolist() == [0]
    assert {int(found.valve_start[0]), int(found.valve_end[0])} == {2, 4}
    assert {int(found.end[1]), int(found.start[2])} == {2, 4}
    assert found.said == ()


def test_a_valve_that_cannot_be_placed_is_told_and_stays_open() -> None:
    found = _parted([], J=("check", 1), A=("check", 2), B=("pressure_reducing", 2))
    assert found.valve.tolist() == [1]
    assert found.said == (
        "Valve J is taken as open: 3 pipes meet there, so what it acts on is not known.",
        "Valve B is taken as open: another stands there, so what it acts on is not known.",
    )
    assert _parted([2], A=("check", 2)).valve.tolist() == []
    assert _parted([], A=("check", -1)).said == ()


def test_a_device_stands_at_the_nearer_end_of_its_pipe() -> None:
    node = standing_node(START, END, pipe=np.array([1, 1, -1]), share=np.array([0.1, 0.9, 0.0]))
    assert node.tolist() == [1, 2, -1]
