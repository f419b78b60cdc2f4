"""Leak noise in the pipes as it truly travels: speeds and losses that no stage knows."""

from __future__ import annotations

import geopandas as gpd
import networkx as nx
import numpy as np
import pandas as pd

from district.hydraulics.model import Reals
from district.simulate.clock import Clock
from district.simulate.layout import Layout
from district.simulate.true_model import TrueModel

_SPEED_M_S = {
    "cast_iron": 1240.0,
    "asbestos_cement": 1040.0,
    "steel": 1170.0,
    "ductile_iron": 1260.0,
    "pvc": 410.0,
    "polyethylene": 310.0,
}
_LOSS_DB_M = {
    "cast_iron": 0.12,
    "asbestos_cement": 0.25,
    "steel": 0.12,
    "ductile_iron": 0.14,
    "pvc": 0.6,
    "polyethylene": 0.8,
}
"""Invented, in the order practice knows: iron carries far, plastic hardly."""
_SOURCE_DB = 62.0
"""Beside a leak of 1 L/s; 10 dB more for ten times the flow."""
_HEARD_HOUR = 3.0
_PASSING_SHARE = 0.1
"""Of nights in which use or traffic is heard even in the quietest minute."""


def travel_s(layout: Layout, true: TrueModel, rng: np.random.Generator) -> Reals:
    """Seconds that noise takes through each link (L); pipes differ by some per cent."""
    speed = layout.pipes["material"].map(_SPEED_M_S) * rng.normal(1.0, 0.02, len(layout.pipes))
    return _along_links(true, (1.0 / speed).set_axis(layout.pipes["pipe_id"]))


def loss_db(layout: Layout, true: TrueModel) -> Reals:
    """Decibels lost along each link (L)."""
    lost = layout.pipes["material"].map(_LOSS_DB_M)
    return _along_links(true, lost.set_axis(layout.pipes["pipe_id"]))


def least_way(true: TrueModel, cost: Reals, node: int, *, without: int | None = None) -> Reals:
    """Least sum of `cost` (L) from one node to every node (N), not through the link `without`;
    infinite where there is no way."""
    model = true.model
    graph: nx.MultiGraph[int] = nx.MultiGraph()
    graph.add_nodes_from(range(len(model.node_id)))
    for link, (start, end) in enumerate(zip(model.start, model.end, strict=True)):
        if link != without:
            graph.add_edge(int(start), int(end), cost=float(cost[link]))
    ways = np.full(len(model.node_id), np.inf)
    for reached, way in nx.single_source_dijkstra_path_length(graph, node, weight="cost").items():
        ways[reached] = way
    return ways


def at_places(true: TrueModel, cost: Reals, ways: Reals, places: gpd.GeoDataFrame) -> Reals:
    """The least way to places (columns pipe_id, share), `ways` being that to the nodes."""
    found = []
    for pipe_id, share in zip(places["pipe_id"], places["share"], strict=True):
        link, along = true.piece(pipe_id, share)
        by_start = ways[true.model.start[link]] + along * cost[link]
        by_end = ways[true.model.end[link]] + (1.0 - along) * cost[link]
        found.append(min(by_start, by_end))
    return np.array(found)


def acoustic_readings(
    clock: Clock,
    layout: Layout,
    true: TrueModel,
    sensors: gpd.GeoDataFrame,
    leaks_l_s: pd.DataFrame,
    rng: np.random.Generator,
) -> pd.DataFrame:
    """Quietest level (dB) of each night at the acoustic loggers, reported at 03:00 local time;
    long, UTC instants.

    Each leak's noise falls along the pipes; it, the street's own quiet and what passes by add up
    as powers do.
    """
    loggers = sensors[sensors["kind"] == "acoustic"]
    heard = clock.hour == _HEARD_HOUR
    flow = leaks_l_s[heard]
    lost = loss_db(layout, true)
    by_leak = {
        seed: at_places(true, lost, least_way(true, lost, true.node(seed)), loggers)
        for seed in leaks_l_s.columns
    }
    parts = []
    for place, name in enumerate(loggers["sensor_id"]):
        power = np.full(len(flow), 10 ** (rng.normal(20.0, 2.0) / 10))
        for seed, falls in by_leak.items():
            power += flow[seed].to_numpy() * 10 ** ((_SOURCE_DB - falls[place]) / 10)
        passing = rng.random(len(flow)) < _PASSING_SHARE
        power += passing * 10 ** (rng.uniform(20.0, 45.0, len(flow)) / 10)
        level = np.round(10 * np.log10(power) + rng.normal(0.0, 1.0, len(flow)), 1)
        parts.append(pd.DataFrame({"device_id": name, "time": clock.utc[heard], "value": level}))
    return pd.concat(parts, ignore_index=True)


def _along_links(true: TrueModel, by_m: pd.Series) -> Reals:
    """What costs `by_m` a metre on each pipe, along each link; a fitting costs nothing."""
    each = pd.Series(true.link_pipe).map(by_m).fillna(0.0).to_numpy(dtype=float)
    return np.asarray(each * true.model.length_m)
