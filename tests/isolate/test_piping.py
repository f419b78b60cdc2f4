"""Tests of `district.isolate.piping`."""

from __future__ import annotations

import numpy as np
import pandas as pd

from district.isolate.piping import OUTSIDE, piping_of
from tests.isolate.towns import town

LINE = {"P1": [(0, 0), (100, 0)], "P2": [(100, 0), (200, 0)]}


def test_a_valve_gives_each_of_its_two_pipes_a_node_of_its_own() -> None:
    network = town(LINE, {"V1": (40, 0)}, houses={})
    before = network.pipes.copy()
    piping, findings = piping_of(network)
    assert piping.gate_valves == (("V1",),)
    assert piping.nodes_count == len(network.nodes) + 1
    ends = {int(piping.gate_start[0]), int(piping.gate_end[0])}
    assert ends == {int(piping.end[0]), int(piping.start[1])}
    assert findings == ()
    pd.testing.assert_frame_equal(network.pipes, before)


def test_what_cannot_be_turned_is_no_gate_unless_it_stands_shut() -> None:
    kinds = {
        "V1": {"operable": False},
        "V2": {"operable": False, "state": "shut"},
        "V3": {"kind": "check"},
        "V4": {"kind": "pressure_reducing", "state": "shut"},
        "V5": {"kind": "automatic_shutoff"},
        "V6": {"kind": "boundary", "state": "shut"},
    }
    places = {v: (15.0 * n, 0.0) for n, v in enumerate(kinds, start=1)}
    piping, _ = piping_of(town(LINE, places, of_valves=kinds, houses={}))
    gates = zip(piping.gate_valves, piping.gate_shut, strict=True)
    assert list(gates) == [((), ("V2",)), ((), ("V4",)), (("V5",), ()), (("V6",), ("V6",))]
    assert piping.gate_open.tolist() == [False, False, True, False]
    assert piping.acting_valve == ("V3",)


def test_a_valve_where_three_pipes_meet_is_told_of_and_not_counted_on() -> None:
    tee = {**LINE, "P3": [(100, 0), (100, 50)]}
    piping, findings = piping_of(
        town(tee, {"V1": (100, 0)}, houses={}), files={"valves": "valves.gpkg"}
    )
    assert piping.gate_valves == ()
    (finding,) = findings
    assert finding.sentence() == (
        "valves.gpkg, valve V1, column geometry: got 1 valve where three or more pipes meet, "
        "expected each on one pipe, so that it is known which one it shuts. Move each along its "
        "pipe, away from the junction; until then no shut-off counts on it."
    )


def test_a_valve_at_a_dead_end_parts_nothing_but_one_at_a_source_shuts_it_off() -> None:
    piping, _ = piping_of(town(LINE, {"V1": (0, 0), "V2": (200, 0)}, houses={}))
    assert piping.gate_valves == (("V1",),)
    assert piping.gate_end.tolist() == [OUTSIDE]
    assert piping.source_node.tolist() == [OUTSIDE]
    assert piping.source_gate.tolist() == [0]


def test_valves_at_one_place_are_one_gate_the_one_that_needs_nobody_first() -> None:
    piping, _ = piping_of(
        town(
            LINE,
            {"V2": (40, 0), "V10": (40, 0), "V3": (40.02, 0)},
            of_valves={"V3": {"kind": "automatic_shutoff"}},
            houses={},
        )
    )
    assert piping.gate_valves == (("V3", "V2", "V10"),)


def test_a_check_valve_beside_a_valve_is_remembered_at_the_gate() -> None:
    piping, _ = piping_of(
        town(LINE, {"V1": (40, 0), "C1": (40, 0)}, of_valves={"C1": {"kind": "check"}}, houses={})
    )
    assert piping.gate_valves == (("V1",),)
    assert piping.gate_acting == ("C1",)
    assert piping.acting_valve == ()


def test_a_meter_parts_no_water_and_a_source_feeds_the_end_of_its_pipe() -> None:
    network = town(LINE, {"V1": (150, 0)}, meters={"M1": (50, 0)}, houses={})
    piping, _ = piping_of(network)
    assert len(network.pipes) == 4
    assert piping.gate_valves == (("V1",),)
    assert piping.source_node.tolist() == [int(piping.start[0])]


def test_a_source_at_a_valve_between_two_pipes_feeds_the_pipe_it_is_drawn_on() -> None:
    network = town(LINE, {"V1": (40, 0)}, sources={"S": (39.0, 0.0)}, houses={})
    piping, _ = piping_of(network)
    on = network.pipes.index.get_loc(network.sources.at["S", "pipe_id"])
    assert piping.source_node.tolist() == [int(piping.end[on])]
    assert np.isin(piping.source_node, [piping.gate_start, piping.gate_end]).all()
