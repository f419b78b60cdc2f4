"""Tests of `district.isolate.order`."""

from __future__ import annotations

import numpy as np
import pytest

from district.errors import InputError
from district.isolate.order import Stuck, in_order, stuck_gates, valve_of
from district.isolate.plan import plan_shut_off
from district.isolate.target import pipes_target
from tests.isolate.towns import cut, town

NETWORK = town(
    of_valves={"V4": {"kind": "automatic_shutoff"}},
    of_pipes={"P2": {"diameter_mm": 300.0}, "P5": {"diameter_mm": 200.0}},
)
SEGMENTS = cut(NETWORK)
PIPING = SEGMENTS.piping


def names(gates: list[int]) -> list[str]:
    return [valve_of(PIPING, g, ())[0] for g in gates]


def test_automatic_valves_come_first_then_the_widest() -> None:
    every = np.arange(len(PIPING.gate_valves))
    assert names(in_order(NETWORK, PIPING, every, ())) == ["V4", "V2", "V5", "V1", "V3", "V7"]


def test_a_plan_numbers_them_so() -> None:
    target = pipes_target(NETWORK, SEGMENTS, ["P6", "P5/1"])
    made = plan_shut_off(NETWORK, SEGMENTS, target)
    shut = made.valves[made.valves["action"] == "shut"]
    assert shut["valve_id"].tolist() == ["V4", "V2"]
    assert shut["rank"].tolist() == [1, 2]
    assert shut["diameter_mm"].tolist() == [100.0, 300.0]
    assert shut["said"].tolist()[0] == "Shut V4: water reaches the stretch through it."


def test_a_gate_is_stuck_only_with_all_its_valves() -> None:
    line = {"P1": [(0, 0), (100, 0)]}
    network = town(line, {"V1": (40, 0), "V2": (40, 0), "V3": (60, 0)})
    piping = cut(network).piping
    assert stuck_gates(network, piping, []) == Stuck()
    assert stuck_gates(network, piping, ["V1"]).failed == frozenset()
    assert stuck_gates(network, piping, ["V1", "V2"]).failed == frozenset({0})
    assert valve_of(piping, 0, {"V1"}) == ("V2", [])
    assert valve_of(piping, 0, {"V1", "V2"}) == ("", [])
    with pytest.raises(InputError):
        stuck_gates(network, piping, ["V9"])
