"""The drawn map as a Network."""

from __future__ import annotations

import networkx as nx
import numpy as np
import pytest

from district.network import Network
from district.simulate.trial_map import SOURCE, TrialMap, draw_map
from district.simulate.trial_network import network_of


def drawn() -> tuple[TrialMap, Network]:
    found = draw_map(
        np.random.default_rng(2),
        connections_count=3000,
        zones_count=4,
        with_pressure=True,
        metered_share=0.2,
    )
    return found, network_of(found)


def test_the_graph_joins_all_cells_and_parts_at_every_device() -> None:
    found, network = drawn()
    graph = network.graph()
    assert nx.is_connected(nx.Graph(graph))
    cut = network.nodes["cut"]
    graph.remove_nodes_from(list(network.nodes.index[cut != ""]))
    parts = list(nx.connected_components(graph))
    assert len(parts) == len(network.cells)
    assert set(cut) - {""} == {*found.edges["meter_id"], *found.valves["valve_id"]}


def test_pipes_meet_at_a_meter_from_its_two_sides() -> None:
    found, network = drawn()
    place = {c: n for n, c in enumerate(network.nodes["cut"]) if c}
    for row in found.edges.itertuples():
        at = place[row.meter_id]
        touching = network.pipes[
            (network.pipes["start_position"] == at) | (network.pipes["end_position"] == at)
        ]
        assert set(touching["cell_id"]) == {row.upstream_cell_id, row.downstream_cell_id}


def test_lengths_of_pipes_add_up_to_the_mains() -> None:
    found, network = drawn()
    zones = found.cells.index[1:]
    length = network.pipes.groupby("cell_id")["length_m"].sum().reindex(zones) / 1000
    assert length.to_numpy() == pytest.approx(network.cells.loc[zones, "mains_km"].to_numpy())


def test_only_the_source_is_not_balanced() -> None:
    _, network = drawn()
    assert list(network.cells.index[network.cells["has_source"]]) == [SOURCE]
    assert network.cells.notna()[["mains_km", "connections_count", "private_km"]].all(axis=None)
    assert set(network.connections["cell_id"]) <= set(network.cells.index)
    assert list(network.meters.index) == sorted(network.meters["meter_id"])
