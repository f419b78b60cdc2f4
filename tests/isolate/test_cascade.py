"""Whom a leak at one connection may reach: by hand on a small town, and against networkx."""

from __future__ import annotations

import networkx as nx
import numpy as np
import pytest

from district.errors import InputError
from district.isolate import cascade, connections_of
from district.isolate.segments import Segments
from district.network import Network
from tests.isolate.towns import HOUSES, STREETS, cut, town

BLOCK = {
    "F5": {"building_id": "Mill Court", "floor": 5.0, "riser": "east", "stopcock": "cupboard 5"},
    "F4": {"building_id": "Mill Court", "floor": 4.0, "riser": "east", "stopcock": "cupboard 5"},
    "F4w": {"building_id": "Mill Court", "floor": 4.0, "riser": "west"},
    "F1": {"building_id": "Mill Court", "floor": 1.0, "critical": True, "use_class": "dialysis"},
    "Fx": {"building_id": "Mill Court"},
    "F6": {"building_id": "Mill Court", "floor": 6.0, "riser": "east"},
    "N": {"building_id": "Next Door", "floor": 0.0, "stopcock": "cupboard 5"},
}


@pytest.fixture(scope="module")
def block() -> tuple[Network, Segments]:
    houses = {name: ((350.0 + n, 5.0), 1) for n, name in enumerate(BLOCK)} | HOUSES
    network = town(houses=houses, of_houses=BLOCK)
    return network, cut(network)


def test_a_leak_runs_down_its_own_riser_and_perhaps_where_no_storey_is_told(
    block: tuple[Network, Segments],
) -> None:
    found = cascade(*block, "F5").set_index("connection_id")
    assert found.index[0] == "F5"
    assert found.loc["F5", "said"] == "leaks"
    assert set(found.index[found["below"]]) == {"F4", "F1", "Fx"}
    assert set(found.index[found["below_for_sure"]]) == {"F4"}
    assert set(found.index[found["same_stopcock"]]) == {"F4"}  # that of another building is not it
    assert found.index[1] == "F1"  # who must not be without water is told of first
    assert "perhaps below it" in found.loc["F1", "said"]
    assert not found.loc["F6", "below"]
    assert not found.loc["F4w", "below"]
    assert found.loc["F6", "same_segment"]


def test_what_hangs_on_the_leaking_pipe_alone_is_downstream(
    block: tuple[Network, Segments],
) -> None:
    found = cascade(*block, "H3").set_index("connection_id")
    assert set(found.index[found["downstream"]]) == {*BLOCK, "H7"}
    assert not cascade(*block, "H6")["downstream"].any()  # on the ring


@pytest.mark.parametrize("house", sorted(HOUSES))
def test_downstream_is_what_networkx_finds_cut_off(
    block: tuple[Network, Segments], house: str
) -> None:
    network, segments = block
    graph = nx.MultiGraph()
    for name, line in STREETS.items():
        graph.add_edge(line[0], line[-1], key=name)
    pipe = network.pipes.loc[network.connections.loc[house, "pipe_id"], "layer_pipe_id"]
    line = STREETS[str(pipe)]
    graph.remove_edge(line[0], line[-1], key=pipe)
    fed = nx.node_connected_component(graph, (0, 0))
    lost = {
        name
        for name, row in network.connections.iterrows()
        for other in [STREETS[str(network.pipes.loc[row["pipe_id"], "layer_pipe_id"])]]
        if other != line and not fed & {tuple(other[0]), tuple(other[-1])}
    }
    found = cascade(network, segments, house).set_index("connection_id")
    # A pipe parted by a valve is two parts: what hangs on its far part is downstream as well.
    on_pipe = set(network.connections.index[network.connections["pipe_id"].map(
        network.pipes["layer_pipe_id"]) == pipe])  # fmt: skip
    assert set(found.index[found["downstream"]]) - on_pipe == lost


def test_a_connection_that_is_none_gets_a_sentence(block: tuple[Network, Segments]) -> None:
    with pytest.raises(InputError, match="the closest is F4"):
        cascade(*block, "F44")
    with pytest.raises(InputError, match="Mill Court"):
        connections_of(block[0], "Mill Curt")


def test_of_a_building_the_highest_storey_comes_first(block: tuple[Network, Segments]) -> None:
    assert connections_of(block[0], "Mill Court")[0] == "F6"
    assert connections_of(block[0], "Mill Court")[-1] == "Fx"


def test_without_storeys_on_the_map_nothing_is_below_for_sure() -> None:
    network = town()
    found = cascade(network, cut(network), "H3")
    assert not found["below"].any()
    assert found["floor"].isna().all() or np.isfinite(found["floor"].dropna()).all()
