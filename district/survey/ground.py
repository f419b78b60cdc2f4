"""Where a crew can walk: along the pipes, or along streets, and how far it is."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Any

import geopandas as gpd
import numpy as np
import shapely
from scipy.sparse.csgraph import dijkstra
from shapely.ops import substring

from district.hydraulics.model import Flags, Reals, Wholes
from district.network import Network
from district.network.ways import Ways, laid, pipes_in_order
from district.survey.lines import chained

_AT_ONCE = 64
_LEAST_M = 1e-6
_AROUND_M = 500.0


@dataclass(frozen=True, eq=False)
class Ground:
    """Lines to walk on: E links between N nodes.

    start, end (E)
        their nodes.
    line (E)
        as drawn, from start to end.
    x_m, y_m (N)
        where the nodes are.
    by
        what the lines are, in words: 'pipes' or 'streets'.
    """

    start: Wholes
    end: Wholes
    line: Any
    x_m: Reals
    y_m: Reals
    by: str

    def ways(self) -> Ways:
        """The ways over them, in metres."""
        length = np.maximum(shapely.length(self.line), _LEAST_M)
        return laid(self.start, self.end, length, nodes_count=len(self.x_m))


def ground_of_pipes(network: Network) -> Ground:
    """The whole network, other zones too: pipes as drawn are where a crew walks."""
    pipes, nodes = pipes_in_order(network), network.nodes.geometry
    return Ground(
        pipes["start_position"].to_numpy(dtype=np.int64),
        pipes["end_position"].to_numpy(dtype=np.int64),
        pipes.geometry.to_numpy(),
        nodes.x.to_numpy(dtype=float),
        nodes.y.to_numpy(dtype=float),
        "pipes",
    )


def ground_of_streets(streets: gpd.GeoDataFrame, *, tolerance_m: float) -> Ground:
    """The streets, joined wherever they meet or cross to within `tolerance_m`."""
    joined = shapely.union_all(streets.geometry.to_numpy(), grid_size=tolerance_m)
    lines = shapely.get_parts(shapely.get_parts(joined))
    lines = lines[shapely.length(lines) > 0]
    ends = np.concatenate([shapely.get_point(lines, 0), shapely.get_point(lines, -1)])
    corner = np.round(shapely.get_coordinates(ends) / tolerance_m).astype(np.int64)
    _, first, node = np.unique(corner, axis=0, return_index=True, return_inverse=True)
    node, xy = node.reshape(-1), shapely.get_coordinates(ends)[first]
    count = len(lines)
    return Ground(node[:count], node[count:], lines, xy[:, 0], xy[:, 1], "streets")


def with_places(ground: Ground, link: Wholes, share: Reals) -> tuple[Ground, Wholes]:
    """The ground with a node at each place (`link`, `share` of its length), and these nodes."""
    node = np.where(share <= 0, ground.start[link], ground.end[link])
    inside = np.flatnonzero((share > 0) & (share < 1))
    order = inside[np.lexsort((share[inside], link[inside]))]
    points = shapely.line_interpolate_point(ground.line[link[order]], share[order], normalized=True)
    fresh = len(ground.x_m) + np.arange(len(order))
    node[order] = fresh
    starts, ends, lines = [], [], []
    for one in np.unique(link[order]):
        own = np.flatnonzero(link[order] == one)
        chain = [int(ground.start[one]), *fresh[own].tolist(), int(ground.end[one])]
        at = [0.0, *share[order][own].tolist(), 1.0]
        for k in range(len(chain) - 1):
            starts.append(chain[k])
            ends.append(chain[k + 1])
            lines.append(substring(ground.line[one], at[k], at[k + 1], True))
    kept = np.setdiff1d(np.arange(len(ground.start)), link[order])
    return (
        Ground(
            np.concatenate([ground.start[kept], np.array(starts, dtype=np.int64)]),
            np.concatenate([ground.end[kept], np.array(ends, dtype=np.int64)]),
            _objects([*ground.line[kept], *map(_as_line, lines)]),
            np.concatenate([ground.x_m, shapely.get_x(points)]),
            np.concatenate([ground.y_m, shapely.get_y(points)]),
            ground.by,
        ),
        node,
    )


def with_links(ground: Ground, start: Wholes, end: Wholes, lines: Sequence[Any]) -> Ground:
    """The ground with more lines between nodes that it has."""
    return Ground(
        np.concatenate([ground.start, start]),
        np.concatenate([ground.end, end]),
        _objects([*ground.line, *lines]),
        ground.x_m,
        ground.y_m,
        ground.by,
    )


def with_points(ground: Ground, x_m: Reals, y_m: Reals) -> tuple[Ground, Wholes]:
    """The ground with a node at each point, joined straight to the nearest line; these nodes."""
    points = shapely.points(x_m, y_m)
    link = np.asarray(shapely.STRtree(ground.line).nearest(points), dtype=np.int64)
    share = np.nan_to_num(shapely.line_locate_point(ground.line[link], points, normalized=True))
    ground, foot = with_places(ground, link, share)
    own = len(ground.x_m) + np.arange(len(points))
    wider = Ground(
        ground.start,
        ground.end,
        ground.line,
        np.concatenate([ground.x_m, x_m]),
        np.concatenate([ground.y_m, y_m]),
        ground.by,
    )
    feet = np.column_stack([ground.x_m[foot], ground.y_m[foot]])
    straight = [shapely.linestrings([a, b]) for a, b in zip(feet, np.c_[x_m, y_m], strict=True)]
    return with_links(wider, foot, own, straight), own


def apart(ground: Ground, nodes: Wholes) -> tuple[Reals, Flags]:
    """Metres between every two of K nodes, and where no line leads so that they are straight."""
    links = ground.ways().links
    found = np.empty((len(nodes), len(nodes)))
    for first in range(0, len(nodes), _AT_ONCE):
        rows = slice(first, first + _AT_ONCE)
        found[rows] = dijkstra(links, directed=False, indices=nodes[rows])[:, nodes]
    x, y = ground.x_m[nodes], ground.y_m[nodes]
    straight = np.hypot(x[:, None] - x, y[:, None] - y)
    nowhere = ~np.isfinite(found)
    metres = np.where(nowhere, straight, found)
    # The same to the last digit either way, as a round may be turned.
    return np.minimum(metres, metres.T), nowhere


def about(ground: Ground, nodes: Wholes) -> Ground:
    """The lines of the ground near some nodes: in a box about them, wider by its own size and by
    `_AROUND_M`. A round in one zone need not look at the whole town."""
    x, y = ground.x_m[nodes], ground.y_m[nodes]
    margin = max(float(np.hypot(np.ptp(x), np.ptp(y))), _AROUND_M)
    west, south, east, north = shapely.bounds(ground.line).T
    near = (west <= x.max() + margin) & (east >= x.min() - margin)
    near &= (south <= y.max() + margin) & (north >= y.min() - margin)
    return replace(ground, start=ground.start[near], end=ground.end[near], line=ground.line[near])


def way_between(ground: Ground, ways: Ways, first: int, last: int, *, at_most_m: float) -> Any:
    """The shortest line to walk from one node to another, straight where none leads there.

    `ways` those of the ground; `at_most_m` how long it is at most, so that no more is looked at.
    """
    reached, before = dijkstra(
        ways.links,
        directed=False,
        indices=first,
        return_predecessors=True,
        limit=at_most_m + 0.01,
    )
    if first == last or not np.isfinite(reached[last]):
        here, there = ((ground.x_m[n], ground.y_m[n]) for n in (first, last))
        return shapely.linestrings([here, there])
    corners: list[Any] = []
    node = last
    while node != first:
        earlier = int(before[node])
        link = int(ways.pipe[min(node, earlier), max(node, earlier)]) - 1
        line = shapely.get_coordinates(ground.line[link])
        corners.append(line[::-1] if ground.start[link] == earlier else line)
        node = earlier
    return chained(np.concatenate(corners)[::-1])


def _as_line(shape: Any) -> Any:
    if shape.geom_type == "LineString":
        return shape
    return shapely.linestrings([shape.coords[0], shape.coords[0]])


def _objects(shapes: Sequence[Any]) -> Any:
    held = np.empty(len(shapes), dtype=object)
    held[:] = shapes
    return held
