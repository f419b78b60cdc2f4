"""Stretches of main on one side of every outline, put together to patches.

Pipes are cut where they meet the outline of a zone. Stretches of one cell that lie in one zone
and are joined there make a patch; joints between patches are where water crosses an outline.
"""

from __future__ import annotations

from itertools import combinations, pairwise
from typing import Any

import geopandas as gpd
import numpy as np
import pandas as pd
import shapely
from scipy.sparse import coo_array
from scipy.sparse.csgraph import connected_components
from shapely.ops import substring

from district.network import Network, zone_of_points


def zone_patches(network: Network) -> tuple[pd.DataFrame, pd.DataFrame]:
    """The patches of a network, and the joints between patches of different zones.

    Patches: index patch number; zone_id ('' outside every zone), cell_id, length_m,
    connections_count. Joints: one, two (patch numbers), one_pipe_id, two_pipe_id (the layer's
    pipes that meet there; the same pipe where it runs over an outline).
    """
    stretches = _stretches(network)
    joints = _joints(network, stretches)
    zone = stretches["zone_id"].to_numpy()
    alike = zone[joints["a"]] == zone[joints["b"]]
    links = joints[alike]
    size = len(stretches)
    _, patch = connected_components(
        coo_array((np.ones(len(links)), (links["a"], links["b"])), shape=(size, size)),
        directed=False,
    )
    stretches["patch"] = patch
    stretches["cell_id"] = network.pipes["cell_id"].to_numpy()[stretches["pipe"]]
    patches = stretches.groupby("patch").agg(
        zone_id=("zone_id", "first"), cell_id=("cell_id", "first"), length_m=("length_m", "sum")
    )
    patches["connections_count"] = _served(network, stretches).reindex(patches.index).fillna(0)
    over = joints[~alike]
    names = network.pipes["layer_pipe_id"].to_numpy()[stretches["pipe"]]
    crossings = {
        "one": patch[over["a"]],
        "two": patch[over["b"]],
        "one_pipe_id": names[over["a"]],
        "two_pipe_id": names[over["b"]],
    }
    return patches, pd.DataFrame(crossings)


def _stretches(network: Network) -> pd.DataFrame:
    """Pieces of pipe on one side of every outline, in order along their pipe.

    pipe (position), zone_id, start, end (node position, -1 at an outline), length_m, geometry.
    """
    pipes = network.pipes
    lines = pipes.geometry.to_numpy()
    edges = shapely.boundary(network.zones.geometry.to_numpy())
    edge, pipe = shapely.STRtree(lines).query(edges, predicate="intersects")
    crossed = np.unique(pipe)
    whole = np.setdiff1d(np.arange(len(lines)), crossed)
    ends = pipes[["start_position", "end_position"]].to_numpy(dtype=np.intp)
    by_pipe = pd.Series(edge).groupby(pipe).agg(list)
    rows = [(p, ends[p, 0], ends[p, 1], lines[p]) for p in whole]
    for p in crossed:
        pieces = _cut(lines[p], edges[by_pipe[p]])
        nodes = [ends[p, 0], *[-1] * (len(pieces) - 1), ends[p, 1]]
        rows += [(p, *near, piece) for near, piece in zip(pairwise(nodes), pieces, strict=True)]
    stretches = pd.DataFrame(rows, columns=["pipe", "start", "end", "geometry"])
    shapes = stretches["geometry"].to_numpy()
    middles = shapely.line_interpolate_point(shapes, 0.5, normalized=True)
    stretches["length_m"] = shapely.length(shapes)
    stretches["zone_id"] = zone_of_points(gpd.GeoSeries(middles, crs=pipes.crs), network.zones)
    return stretches


def _cut(line: Any, edges: Any) -> list[Any]:
    """The pieces of a line between its meetings with the outlines."""
    met = shapely.get_coordinates(shapely.intersection(line, edges))
    along = shapely.line_locate_point(line, shapely.points(met))
    length = float(line.length)
    inner = sorted({a for a in np.round(along, 3).tolist() if 0.01 < a < length - 0.01})
    return [substring(line, a, b) for a, b in pairwise([0.0, *inner, length])]


def _joints(network: Network, stretches: pd.DataFrame) -> pd.DataFrame:
    """Pairs of stretches (a, b) between which water passes: at an outline or an uncut node."""
    row = np.arange(len(stretches))
    same = stretches["pipe"].to_numpy()
    follows = row[:-1][(same[:-1] == same[1:]) & (stretches["end"].to_numpy()[:-1] == -1)]
    pairs = [np.column_stack([follows, follows + 1])]
    uncut = (network.nodes["cut"] == "").to_numpy()
    at_node = pd.DataFrame(
        {
            "node": np.concatenate([stretches["start"], stretches["end"]]).astype(np.intp),
            "row": np.concatenate([row, row]),
            "zone_id": np.concatenate([stretches["zone_id"], stretches["zone_id"]]),
        }
    )
    at_node = at_node[(at_node["node"] >= 0) & uncut[at_node["node"]]]
    at_node = at_node.sort_values(["node", "zone_id", "row"])
    node, where = at_node["node"].to_numpy(), at_node["row"].to_numpy()
    zone = at_node["zone_id"].to_numpy()
    # On one side of the outlines a chain through the node is enough to join its stretches.
    chain = np.flatnonzero((node[:-1] == node[1:]) & (zone[:-1] == zone[1:]))
    pairs.append(np.column_stack([where[chain], where[chain + 1]]))
    sides = at_node.drop_duplicates(["node", "zone_id"])
    mixed = sides[sides["node"].duplicated(keep=False)]
    for _, rows in mixed.groupby("node")["row"]:
        pairs.append(np.array(list(combinations(rows, 2)), dtype=np.intp))
    return pd.DataFrame(np.concatenate(pairs).astype(np.intp), columns=["a", "b"])


def _served(network: Network, stretches: pd.DataFrame) -> pd.Series:
    """How many connections each patch serves."""
    placed = network.connections[network.connections["pipe_id"] != ""]
    served = pd.DataFrame(
        {
            "pipe": network.pipes.index.get_indexer(placed["pipe_id"]),
            "point": placed.geometry.to_numpy(),
        }
    ).reset_index(names="connection")
    # Of a pipe in several stretches, the nearest one serves the connection.
    pairs = served.merge(stretches[["pipe", "patch", "geometry"]], on="pipe")
    pairs["gap_m"] = shapely.distance(pairs["point"].to_numpy(), pairs["geometry"].to_numpy())
    nearest = pairs.sort_values(["connection", "gap_m"]).drop_duplicates("connection")
    return nearest.groupby("patch").size()
