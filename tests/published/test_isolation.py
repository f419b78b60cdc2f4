"""Shutting off a break. Worked example of six nodes and seven pipes: Cattafi, Gavanelli, Nonato,
Alvisi & Franchini, "Optimal placement of valves in a water distribution network with CLP(FD)",
ICLP 2011 (also IJCAI-13).

SEEN: the graph, the valves, that a break in 3-4 closes the valves on 2-3 next to 3 and on 5-4 next
to 5, that 4-5 is lost as well, and that the demand of 2-5 is 15. Which demand belongs to which
other pipe is from a public copy of the authors' test data. DERIVED, by hand from these: what each
segment loses.
"""

from __future__ import annotations

import pytest

from district.isolate import (
    pipes_target,
    plan_shut_off,
    segment_losses,
    segments_of,
    valve_losses,
)
from district.network import Network
from district.settings import Settings
from tests.isolate.towns import XY, town

NODES: dict[int, XY] = {
    1: (0.0, 0.0),
    2: (100.0, 0.0),
    3: (200.0, 0.0),
    4: (200.0, -100.0),
    5: (100.0, -100.0),
    6: (0.0, -100.0),
}
DEMAND_L_S = {(1, 2): 5, (1, 6): 3, (2, 3): 3, (2, 5): 15, (3, 4): 7, (4, 5): 6, (5, 6): 8}
VALVES = ((1, 2), (2, 3), (1, 6), (3, 2), (5, 6), (5, 4))
"""Valve (i, j) stands on the pipe between i and j, next to i."""
BESIDE_M = 0.5


def between(i: int, j: int, along_m: float) -> XY:
    (x, y), (other_x, other_y) = NODES[i], NODES[j]
    share = along_m / 100.0
    return (x + share * (other_x - x), y + share * (other_y - y))


@pytest.fixture(scope="module")
def network() -> Network:
    """Demands stand as properties of one connection half-way along each pipe."""
    return town(
        {f"{i}-{j}": [NODES[i], NODES[j]] for i, j in DEMAND_L_S},
        {f"v{i}{j}": between(i, j, BESIDE_M) for i, j in VALVES},
        sources={"0": NODES[1]},
        houses={f"d{i}{j}": (between(i, j, 50.0), q) for (i, j), q in DEMAND_L_S.items()},
    )


def users(network: Network, pipe_id: str) -> tuple[set[str], dict[str, set[str]]]:
    segments = segments_of(network, settings=Settings())
    target = pipes_target(network, segments, [pipe_id])
    made = plan_shut_off(network, segments, target)
    kinds = made.areas.set_index("area_id")["kind"]
    who: dict[str, set[str]] = {}
    for row in made.users.to_dict("records"):
        who.setdefault(kinds[row["area_id"]], set()).add(row["connection_id"])
    return set(made.valves["valve_id"][made.valves["action"] == "shut"]), who


def test_a_break_in_3_4_closes_v32_and_v54_and_4_5_is_lost_too(network: Network) -> None:
    shut, who = users(network, "3-4")  # SEEN
    assert shut == {"v32", "v54"}
    assert who == {"shut_off": {"d34", "d45"}}


def test_the_segment_of_2_5_isolates_two_more_unintentionally(network: Network) -> None:
    segments = segments_of(network, settings=Settings())
    inner = network.connections["pipe_id"]["d25"]
    shut, who = users(network, inner)
    # DERIVED: {1-2, 2-5} own 20, then 2-3, 3-4 and 4-5 have no way left to node 1.
    assert shut == {"v12", "v56"}
    assert who == {"shut_off": {"d12", "d25"}, "unintended": {"d23", "d34", "d45"}}
    assert segments.table["properties_count"].sum() == 47


def test_what_each_segment_loses(network: Network) -> None:
    segments = segments_of(network, settings=Settings())
    lost = segment_losses(segments).set_index("segment_id")["dry_properties_count"]
    of_pipe = segments.pipes.set_index("pipe_id")["segment_id"]
    of_demand = network.connections["pipe_id"].map(of_pipe).map(lost).to_dict()
    # DERIVED: 36 of 47 at the worst.
    assert of_demand == {
        "d12": 36, "d25": 36, "d34": 13, "d45": 13, "d23": 3, "d16": 11, "d56": 11,
    }  # fmt: skip


def test_a_failed_valve_merges_the_segments_on_its_sides(network: Network) -> None:
    """By the definition of a segment in Walski 1993 (as cited; not seen): the next valves around
    both are to be shut. DERIVED: with v54 open, {3-4, 4-5} and {1-2, 2-5} and 2-3 between."""
    segments = segments_of(network, settings=Settings())
    target = pipes_target(network, segments, ["3-4"])
    told = plan_shut_off(network, segments, target).failures.set_index("valve_id")
    assert set(told.at["v54", "also_shut"].split(", ")) == {"v12", "v56"}
    assert told.at["v54", "more_properties_count"] == 36 - 13
    assert told.at["v32", "also_shut"] == "v23"
    assert told.at["v32", "more_properties_count"] == 3
    worst = valve_losses(segments).set_index("valve_id")["more_properties_count"]
    assert worst["v54"] == 23
