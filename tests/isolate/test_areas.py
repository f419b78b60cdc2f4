"""Tests of `district.isolate.areas`."""

from __future__ import annotations

import numpy as np

from district.isolate.areas import Areas, areas_of
from district.isolate.graph import closure
from district.isolate.target import pipes_target
from district.network import Network
from tests.isolate.towns import cut, town


def found(network: Network, *pipe_ids: str) -> Areas:
    segments = cut(network)
    target = pipes_target(network, segments, pipe_ids)
    return areas_of(network, segments, closure(segments.graph, target.wanted))


def test_each_area_cut_off_is_told_by_itself() -> None:
    made = found(town(), "P1/2")
    assert made.table["kind"].tolist() == ["shut_off", "unintended"]
    # The ring behind the junction hangs together: one area.
    assert made.table["segment_ids"].tolist() == ["P1/2", "P2/2, P3/2, P4/2, P7/2"]
    apart = found(town(of_valves={"V5": {"state": "shut"}}), "P1/2")
    assert apart.table["segment_ids"].tolist() == ["P1/2", "P2/2, P3/2, P7/2", "P4/2"]
    assert apart.table["properties_count"].tolist() == [0, 54, 8]


def test_pipes_and_their_areas_add_up() -> None:
    network = town()
    made = found(network, "P6")
    assert (made.pipe_area >= 0).sum() == len(made.pipes) == made.table["pipes_count"].sum()
    length = network.pipes["length_m"].to_numpy()
    for row, told in enumerate(made.table["length_m"]):
        assert np.isclose(length[made.pipe_area == row].sum(), told)


def test_a_tank_in_an_area_is_named_but_is_no_source() -> None:
    made = found(town(tanks={"T1": (390, 0)}), "P6")
    row = made.table.set_index("segment_ids").loc["P3/2, P7/2"]
    assert row["kind"] == "unintended"
    assert row["tanks"] == "T1"


def test_what_is_left_only_past_a_check_valve_is_in_doubt() -> None:
    # With P1/2 shut, P3 and what lies west of it would be fed from S2 past C1 alone.
    network = town(
        valves={"V1": (90, 0), "V2": (110, 0), "V4": (100, 10), "C1": (250, 0)},
        sources={"S": (0, 0), "S2": (400, 0)},
        of_valves={"C1": {"kind": "check"}},
    )
    made = found(network, "P1/2")
    doubt = made.table[made.table["kind"] == "doubtful"].iloc[0]
    assert made.table["kind"].tolist() == ["shut_off", "doubtful"]
    assert doubt["through"] == "C1"
    # H7 is beside S2; H3 stands at the valve's western part with the ring.
    assert doubt["properties_count"] == 2 + 8 + 16 + _properties(network, "P3/1")
    assert set(made.pipes["pipe_id"][made.pipes["area_id"] == "1"]) == {
        "P2/2", "P3/1", "P4/2", "P5", "P6",
    }  # fmt: skip


def _properties(network: Network, pipe_id: str) -> int:
    own = network.connections["pipe_id"] == pipe_id
    return int(network.connections["properties"][own].sum())


def test_what_always_hung_on_a_reducing_valve_is_not_in_doubt() -> None:
    network = town(of_valves={"V3": {"kind": "pressure_reducing"}})
    assert "doubtful" not in set(found(network, "P4/2").table["kind"])


def test_a_check_valve_at_the_same_place_as_a_valve_puts_in_doubt_too() -> None:
    network = town(
        valves={"V1": (90, 0), "V2": (110, 0), "V4": (100, 10), "V3": (210, 0), "C3": (210, 0)},
        sources={"S": (0, 0), "S2": (400, 0)},
        of_valves={"C3": {"kind": "check"}},
    )
    doubt = found(network, "P1/2").table.set_index("kind").loc["doubtful"]
    assert doubt["through"] == "C3"
    assert doubt["properties_count"] == 2 + 8 + 16
