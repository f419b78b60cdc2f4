from __future__ import annotations

import networkx as nx

from district.network import build_network
from district.results import Inputs
from district.settings import Settings


def test_the_graph_has_every_pipe_and_is_connected(inputs: Inputs) -> None:
    network = build_network(inputs, settings=Settings())
    graph = network.graph()
    assert {key for _, _, key in graph.edges(keys=True)} == set(network.pipes.index)
    assert nx.is_connected(graph)
    total = sum(d["length_m"] for _, _, d in graph.edges(data=True))
    assert total == network.pipes["length_m"].sum()
