"""Pipes that run over the edge of a zone's outline with neither meter nor shut valve.

Outlines are drawn by hand and pipes run along them, so a crossing counts only where a real
stretch of main lies on both sides of it: the pipes are cut at the outlines, and the stretches of
one cell on one side are put together to patches.
"""

from __future__ import annotations

from itertools import combinations, pairwise
from typing import Any

import geopandas as gpd
import numpy as np
import numpy.typing as npt
import pandas as pd
import shapely
from scipy.sparse import coo_array
from scipy.sparse.csgraph import connected_components
from shapely.ops import substring

from district.check.wording import file_of, listed, natural, natural_key
from district.errors import Finding
from district.network import Network, zone_of_points
from district.results import Inputs

SLACK_M = 25.0
"""A patch with less main than this is the drawing of the edge, not water going over it."""
_SHOWN = 50


def edge_crossings(network: Network, inputs: Inputs) -> list[Finding]:
    """One finding for each pipe and pair of zones ('' is the ground outside every zone).

    A main that brings water past or through a zone without serving anybody in it is none, nor is
    what a patch of less than `SLACK_M` makes.
    """
    if network.zones.empty or network.pipes.empty:
        return []
    stretches = _stretches(network)
    joints = _joints(network, stretches)
    stretches["patch"] = _patches(stretches, joints)
    counts = _patch_counts(network, stretches)
    zone = stretches["zone_id"].to_numpy()
    over = joints[zone[joints["a"]] != zone[joints["b"]]]
    crossings = {
        crossing
        for a, b in over.to_numpy()
        if (crossing := _crossing(network, stretches, counts, int(a), int(b)))
    }
    ordered = sorted(crossings, key=lambda c: (natural_key(c[0]), c[1], c[2]))
    source = file_of(inputs, "pipes")
    expected = "a zone meter or a shut valve where a pipe leaves a zone"
    found = [
        Finding(
            "warning",
            source,
            f"pipe {pipe_id}",
            "geometry",
            got=f"a pipe that crosses from {_named(one)} to {_named(two)} "
            "with neither meter nor shut valve",
            expected=expected,
            remedy="Add the meter or the shut valve, or correct the zone's outline; "
            "the balance follows the pipe",
        )
        for pipe_id, one, two in ordered[:_SHOWN]
    ]
    rest = ordered[_SHOWN:]
    if rest:
        found.append(
            Finding(
                "warning",
                source,
                f"pipes {listed(c[0] for c in rest)}",
                "geometry",
                got=f"{len(natural(c[0] for c in rest))} more pipes that cross a zone's edge "
                "with neither",
                expected=expected,
                remedy="Add the meters or the shut valves, or correct the outlines",
            )
        )
    return found


def _named(zone_id: str) -> str:
    return f"zone {zone_id}" if zone_id else "outside every zone"


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
    inner = [float(a) for a in np.unique(np.round(along, 3)) if 0.01 < a < length - 0.01]
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


def _patches(stretches: pd.DataFrame, joints: pd.DataFrame) -> npt.NDArray[np.intp]:
    zone = stretches["zone_id"].to_numpy()
    within = joints[zone[joints["a"]] == zone[joints["b"]]]
    size = len(stretches)
    links = coo_array((np.ones(len(within)), (within["a"], within["b"])), shape=(size, size))
    _, patch = connected_components(links, directed=False)
    return np.asarray(patch, dtype=np.intp)


def _patch_counts(network: Network, stretches: pd.DataFrame) -> pd.DataFrame:
    """length_m and connections_count of each patch."""
    counts = stretches.groupby("patch")["length_m"].sum().to_frame()
    placed = network.connections[network.connections["pipe_id"] != ""]
    served = pd.DataFrame(
        {
            "pipe": network.pipes.index.get_indexer(placed["pipe_id"]),
            "point": placed.geometry.to_numpy(),
        }
    ).reset_index(names="connection")
    # Of a pipe that crosses, the stretch whose middle is nearest to the connection serves it.
    pairs = served.merge(stretches[["pipe", "patch", "geometry"]], on="pipe")
    pairs["gap_m"] = shapely.distance(pairs["point"].to_numpy(), pairs["geometry"].to_numpy())
    nearest = pairs.sort_values(["connection", "gap_m"]).drop_duplicates("connection")
    counts["connections_count"] = nearest.groupby("patch").size()
    return counts.fillna({"connections_count": 0})


def _crossing(
    network: Network, stretches: pd.DataFrame, counts: pd.DataFrame, a: int, b: int
) -> tuple[str, str, str] | None:
    """Pipe and the two zones if water crosses an edge between two stretches, None if not."""
    zone = stretches["zone_id"]
    sides = counts.loc[[stretches.at[a, "patch"], stretches.at[b, "patch"]]]
    if (sides["length_m"] <= SLACK_M).any():
        return None
    pipe = network.pipes.iloc[[stretches.at[a, "pipe"], stretches.at[b, "pipe"]]]
    carried = network.cells.at[pipe["cell_id"].iloc[0], "zone_ids"]
    served = sides["connections_count"].to_numpy() > 0
    inside = np.array([zone[a] != "", zone[b] != ""])
    if not carried and not (served & inside).any():
        return None  # A main that only brings water, past or through.
    one, two = sorted([zone[a], zone[b]], key=lambda z: (z == "", natural_key(z)))
    return natural(pipe["layer_pipe_id"])[0], one, two
