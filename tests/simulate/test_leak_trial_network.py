"""A drawn zone as the `Network` that location receives."""

from __future__ import annotations

from functools import cache

import networkx as nx
import numpy as np
import pytest

from district.network import Network
from district.simulate.leak_trial_map import SOURCE, ZONE, ZoneMap, furnish
from district.simulate.leak_trial_network import (
    WrongValve,
    draw_wrong_valve,
    gis_pipes,
    network_of_zone,
)
from district.simulate.leak_trial_streets import draw_streets_of_zone

NONE = np.array([], dtype=np.int64)


@cache
def zone_map(loops_share: float = 0.17) -> ZoneMap:
    rng = np.random.default_rng(8)
    streets = draw_streets_of_zone(
        rng, pipes_count=300, loops_share=loops_share, block_m=60.0, gates_count=2
    )
    return furnish(rng, streets, loggers_count=6, metered_share=0.02)


def network(valve: WrongValve | None = None) -> Network:
    told = gis_pipes(np.random.default_rng(1), zone_map())
    return network_of_zone(zone_map(), told, head_m=120.0, valve=valve)


def test_each_cell_is_joined_within_its_meters() -> None:
    made = network()
    cut = made.nodes.index[made.nodes["cut"] != ""]
    assert sorted(made.nodes.loc[cut, "cut"]) == ["ZM-1", "ZM-2"]
    graph = made.graph()
    graph.remove_nodes_from(cut)
    parts = [c for c in nx.connected_components(graph) if len(c) > 1]
    assert len(parts) == 2
    for cell in (SOURCE, ZONE):
        own = made.pipes.loc[made.pipes["cell_id"] == cell, "length_m"].sum() / 1000
        assert made.cells.loc[cell, "mains_km"] == pytest.approx(own)
    assert made.boundaries["downstream_cell_id"].to_list() == [ZONE, ZONE]


def test_layers_stand_where_the_map_has_them() -> None:
    made = network()
    line = made.pipes.geometry.reindex(made.connections["pipe_id"]).reset_index(drop=True)
    away = line.distance(made.connections.geometry.reset_index(drop=True))
    assert away.to_numpy() == pytest.approx(8.0)
    at = line.project(made.connections.geometry.reset_index(drop=True), normalized=True)
    assert at.to_numpy() == pytest.approx(zone_map().taps["share"].to_numpy())
    on = made.pipes.geometry.reindex(made.sensors["pipe_id"]).reset_index(drop=True)
    assert on.distance(made.sensors.geometry.reset_index(drop=True)).max() < 1e-6
    assert made.pipes.geometry.length.to_numpy() == pytest.approx(made.pipes["length_m"])


def test_the_gis_lacks_some_of_what_is_true() -> None:
    true = zone_map().pipes
    kept = 0
    for seed in range(20):
        told = gis_pipes(np.random.default_rng(seed), zone_map())
        assert 0.0 < (told["material"] == "unknown").mean() < 0.12
        assert 0.0 < told["installed_year"].isna().mean() < 0.16
        known = told["material"] != "unknown"
        assert (told.loc[known, "material"] == true.loc[known, "material"]).all()
        assert told["roughness"].isna().all() or told["roughness"].notna().all()
        kept += int(told["roughness"].notna().all())
    assert 3 < kept < 17


def test_a_valve_with_a_wrong_state_cuts_nobody_off() -> None:
    kinds, made = set(), network()
    for seed in range(12):
        valve = draw_wrong_valve(np.random.default_rng(seed), zone_map(), apart=NONE)
        assert (valve.pipe >= 0) != (valve.node >= 0)
        kinds.add(valve.pipe >= 0)
        graph = made.graph()
        if valve.pipe >= 0:
            row, names = made.pipes.iloc[valve.pipe], made.nodes.index
            graph.remove_edge(names[row["start_position"]], names[row["end_position"]])
        else:
            graph.remove_node(made.nodes.index[valve.node])
        assert nx.is_connected(graph)
    assert kinds == {True, False}


def test_a_wrong_valve_stands_in_the_layer_with_its_wrong_state() -> None:
    shut = network(WrongValve(node=17))
    assert shut.nodes["cut"].iloc[17] == shut.valves.index[0]
    assert shut.valves["state"].to_list() == ["shut"]
    assert shut.valves.geometry.iloc[0].equals(shut.nodes.geometry.iloc[17])
    opened = network(WrongValve(pipe=5))
    assert opened.valves["state"].to_list() == ["open"]
    assert opened.valves["pipe_id"].to_list() == ["P00005"]
    assert network().valves.empty


def test_no_wrong_valve_on_a_pipe_kept_apart() -> None:
    ends = zone_map().pipes[["start", "end"]].to_numpy()
    inside = np.flatnonzero((ends < zone_map().source).all(axis=1))
    apart = inside[1:]
    with pytest.raises(ValueError, match="empty"):
        draw_wrong_valve(np.random.default_rng(1), zone_map(0.0), apart=apart)
