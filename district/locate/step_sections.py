"""The sections into which valves shut one after another part a zone."""

from __future__ import annotations

from typing import Any

import numpy as np
from scipy.sparse import coo_array
from scipy.sparse.csgraph import connected_components
from scipy.spatial import cKDTree

from district.locate.pooling import Wholes
from district.network import Network
from district.network.ways import pipes_in_order

_AT_M = 2.0
"""A valve farther from every node of the zone's pipes parts nothing."""


def sections(network: Network, cell_id: str, valves: tuple[str, ...]) -> tuple[Wholes, Any]:
    """The section of each pipe (P, by pipe_id), and which sections feed other zones (K + 1).

    Section k is what the k-th of `valves`, shut one after another, cuts off from every inlet of
    the zone; 0 what is fed to the end; -1 what is not of the zone or was not fed at all.
    """
    pipes = pipes_in_order(network)
    home = (pipes["cell_id"] == cell_id).to_numpy()
    ends = pipes[["start_position", "end_position"]].to_numpy(dtype=np.int64)
    cut = (network.nodes["cut"] != "").to_numpy()
    meter_at = dict(zip(network.nodes["cut"], range(len(cut)), strict=True))
    bounds = network.boundaries
    inlets = bounds.loc[bounds["downstream_cell_id"] == cell_id, "meter_id"]
    outlets = bounds.loc[bounds["upstream_cell_id"] == cell_id, "meter_id"]
    fed_at = np.isin(ends, [meter_at[m] for m in inlets if m in meter_at]).any(axis=1)
    sources = network.sources
    fed_at |= pipes.index.isin(sources.loc[sources["cell_id"] == cell_id, "pipe_id"])
    leaves_at = np.isin(ends, [meter_at[m] for m in outlets if m in meter_at]).any(axis=1)
    section = np.full(len(pipes), -1, dtype=np.int64)
    shut = cut.copy()
    before = _fed(ends, shut, home, fed_at)
    for number, valve in enumerate(valves, start=1):
        node = _node_of(network, valve, ends[home])
        if node >= 0:
            shut[node] = True
        after = _fed(ends, shut, home, fed_at)
        section[before & ~after] = number
        before = after
    section[before] = 0
    feeds = np.zeros(len(valves) + 1, dtype=bool)
    feeds[np.unique(section[home & leaves_at & (section >= 0)])] = True
    return section, feeds


def _fed(ends: Wholes, shut: Any, home: Any, fed_at: Any) -> Any:
    """Which of the zone's pipes an inlet still reaches."""
    count = len(ends)
    pipe, node = np.repeat(np.arange(count), 2), ends.ravel()
    open_here = home[pipe] & ~shut[node]
    size = count + len(shut)
    links = coo_array(
        (np.ones(int(open_here.sum())), (pipe[open_here], count + node[open_here])),
        shape=(size, size),
    )
    label = connected_components(links, directed=False)[1][:count]
    return home & np.isin(label, label[fed_at & home])


def _node_of(network: Network, valve: str, ends: Wholes) -> int:
    """The node of the zone's pipes at which a valve stands, -1 if it is at none."""
    if valve not in network.valves.index:
        return -1
    point = network.valves.geometry.loc[valve]
    own = np.unique(ends)
    spots = network.nodes.geometry.iloc[own]
    distance, near = cKDTree(np.column_stack([spots.x, spots.y])).query([point.x, point.y])
    return int(own[near]) if distance <= _AT_M else -1
