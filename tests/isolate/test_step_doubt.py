"""Tests of `district.isolate.step_doubt`."""

from __future__ import annotations

from district.isolate.step_doubt import doubtful_pipes
from tests.isolate.towns import VALVES_THERE, cut, town


def test_what_would_hang_on_a_check_valve_alone_is_told() -> None:
    network = town(valves={**VALVES_THERE, "C": (150, 0)}, of_valves={"C": {"kind": "check"}})
    piping = cut(network).piping
    gate_of = {v[0]: g for g, v in enumerate(piping.gate_valves)}
    assert not doubtful_pipes(piping, ()).any()
    # Round the loop by V4 and V5 it is fed plainly; without V5 only past the check valve.
    doubt = doubtful_pipes(piping, [gate_of["V5"]])
    told = set(network.pipes.index[doubt])
    assert {"P6", "P7/2"} <= told
    assert not {"P1/1", "P4/2"} & told
    # What is dry for sure is in no doubt.
    assert not doubtful_pipes(piping, [gate_of["V1"]]).any()


def test_without_such_valves_nothing_is_in_doubt() -> None:
    piping = cut(town()).piping
    assert not doubtful_pipes(piping, [0, 1]).any()
