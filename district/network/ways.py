"""Ways along the pipes: how far, how long for sound, or how much of it is lost, from a place to
every spot."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import geopandas as gpd
import numpy as np
import pandas as pd
import shapely
from scipy.sparse import csr_array
from scipy.sparse.csgraph import dijkstra

from district.network.model import Network
from district.words import natural_key

Reals = np.ndarray[Any, np.dtype[np.float64]]
Wholes = np.ndarray[Any, np.dtype[np.int64]]


@dataclass(frozen=True, eq=False)
class Ways:
    """What it costs to go along the pipes: P pipes in order of pipe_id, N nodes.

    start, end (P)
        positions of their nodes.
    cost (P)
        of the whole pipe: m, s of sound, or dB lost.
    links (N, N)
        least cost between neighbouring nodes, each pair once.
    pipe (N, N)
        the pipe of that cost, numbered from 1.
    """

    start: Wholes
    end: Wholes
    cost: Reals
    links: csr_array
    pipe: csr_array


@dataclass(frozen=True, eq=False)
class Places:
    """K places on the pipes: position of the pipe in order of pipe_id, and share of its length."""

    pipe: Wholes
    share: Reals

    def one(self, number: int) -> Places:
        """The place of that number alone."""
        return Places(self.pipe[number : number + 1], self.share[number : number + 1])


def pipes_in_order(network: Network) -> gpd.GeoDataFrame:
    """`network.pipes` by pipe_id, the order that spots count in."""
    return network.pipes.sort_index()


def ways(network: Network, cost_per_m: Reals | None = None) -> Ways:
    """The ways of a network; without `cost_per_m` (P, by pipe_id) they are metres.

    Nothing cuts them: sound and water in the ground pass meters and shut valves.
    """
    pipes = pipes_in_order(network)
    start = pipes["start_position"].to_numpy(dtype=np.int64)
    end = pipes["end_position"].to_numpy(dtype=np.int64)
    cost = pipes["length_m"].to_numpy(dtype=float)
    cost = cost if cost_per_m is None else cost * cost_per_m
    return laid(start, end, cost, nodes_count=len(network.nodes))


def laid(start: Wholes, end: Wholes, cost: Reals, *, nodes_count: int) -> Ways:
    """The ways over P links from node to node, each with its cost."""
    low, high = np.minimum(start, end), np.maximum(start, end)
    order = np.lexsort((cost, high, low))
    # Of pipes between the same two nodes the cheapest counts; a ring leads nowhere else.
    again = np.zeros(len(order), dtype=bool)
    again[1:] = (np.diff(low[order]) == 0) & (np.diff(high[order]) == 0)
    kept = order[~again & (low != high)[order]]
    shape = (nodes_count, nodes_count)
    ends = (low[kept], high[kept])
    links = csr_array((cost[kept], ends), shape=shape)
    return Ways(start, end, cost, links, csr_array((kept + 1, ends), shape=shape))


def device_points(network: Network) -> pd.Series[Any]:
    """The point of every valve, meter, sensor and connection, by id; the first of equal ids."""
    layers = (network.valves, network.meters, network.sensors, network.connections)
    points = pd.concat([pd.Series(layer.geometry.to_numpy(), layer.index) for layer in layers])
    return points[~points.index.duplicated()]


def places_at(network: Network, points: Sequence[Any]) -> Places:
    """The place on the nearest pipe of each point (shapely, the network's CRS)."""
    lines = pipes_in_order(network).geometry.to_numpy()
    shapes = np.array(list(points), dtype=object)
    near = shapely.STRtree(lines).nearest(shapes)
    share = shapely.line_locate_point(lines[near], shapes, normalized=True)
    return Places(np.asarray(near, dtype=np.int64), np.nan_to_num(np.asarray(share, dtype=float)))


def costs(ways: Ways, places: Places, pipe: Wholes, share: Reals) -> Reals:
    """Least cost from each of K places to each of S spots (`pipe`, `share`): (K, S), inf where
    no pipe leads."""
    if not len(places.pipe):
        return np.zeros((0, len(pipe)))
    to_node = _to_nodes(ways, places)
    here = share * ways.cost[pipe]
    rest = ways.cost[pipe] - here
    along = np.minimum(to_node[:, ways.start[pipe]] + here, to_node[:, ways.end[pipe]] + rest)
    own = places.pipe[:, None] == pipe
    straight = np.abs(places.share[:, None] - share) * ways.cost[pipe]
    return np.asarray(np.where(own, np.minimum(along, straight), along))


def _to_nodes(ways: Ways, places: Places) -> Reals:
    first, last = ways.start[places.pipe], ways.end[places.pipe]
    nodes, number = np.unique(np.concatenate([first, last]), return_inverse=True)
    reached = dijkstra(ways.links, directed=False, indices=nodes)
    here = (places.share * ways.cost[places.pipe])[:, None]
    rest = ways.cost[places.pipe][:, None] - here
    count = len(first)
    to_node = np.minimum(reached[number[:count]] + here, reached[number[count:]] + rest)
    return np.asarray(to_node)


def pieces_between(ways: Ways, one: Places, other: Places) -> tuple[Wholes, Reals]:
    """Pipes of the cheapest way from `one` place to the `other`, and the share of each that it
    takes, in order; nothing where no pipe leads."""
    pipe, last = int(one.pipe[0]), int(other.pipe[0])
    ends = np.array([ways.start[pipe], ways.end[pipe]])
    far = np.array([ways.start[last], ways.end[last]])
    out = np.array([one.share[0], 1 - one.share[0]])
    into = np.array([other.share[0], 1 - other.share[0]])
    reached, before = dijkstra(ways.links, directed=False, indices=ends, return_predecessors=True)
    whole = ways.cost[pipe] * out[:, None] + reached[:, far] + ways.cost[last] * into
    best = np.unravel_index(np.argmin(whole), whole.shape)
    direct = abs(float(one.share[0] - other.share[0]))
    if pipe == last and direct * ways.cost[pipe] <= whole[best]:
        return np.array([pipe]), np.array([direct])
    if not np.isfinite(whole[best]):
        return np.empty(0, dtype=np.int64), np.empty(0)
    side, node = int(best[0]), int(far[best[1]])
    between: list[int] = []
    while node != ends[side]:
        earlier = int(before[side, node])
        between.append(int(ways.pipe[min(node, earlier), max(node, earlier)]) - 1)
        node = earlier
    pipes = np.array([pipe, *between[::-1], last], dtype=np.int64)
    return pipes, np.array([out[side], *np.ones(len(between)), into[best[1]]])


def metres_along(network: Network) -> Reals:
    """Where each part of a pipe begins along the pipe of the layer, m from its western end.

    By part in order of pipe_id: a pipe is drawn from its western (then southern) end, and its
    parts are numbered from there.
    """
    pipes = pipes_in_order(network)
    length = pipes["length_m"].astype(float).loc[sorted(pipes.index, key=natural_key)]
    begins = length.groupby(pipes["layer_pipe_id"].loc[length.index]).cumsum() - length
    return np.asarray(begins.loc[pipes.index], dtype=float)
