"""What building the network did to the drawing, and what it left as it stands: table REPAIRS."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import geopandas as gpd
import numpy as np
import numpy.typing as npt
import pandas as pd
import shapely
from scipy.spatial import cKDTree

from district.results import no_repairs
from district.schema.outputs import REPAIRS


def repair_rows(
    what: str, *, pipe_id: Any, where: Any, other_id: Any = "", distance_m: Any = np.nan
) -> pd.DataFrame:
    """Rows of table REPAIRS of one kind; `where` are points."""
    rows = pd.DataFrame({"pipe_id": np.asarray(pipe_id, dtype=object)})
    return rows.assign(what=what, other_id=other_id, distance_m=distance_m, geometry=where)


def repairs_table(rows: Sequence[pd.DataFrame], crs: Any) -> gpd.GeoDataFrame:
    """All rows as table REPAIRS: in order of kind, pipe and place; distances to the millimetre."""
    some = [r for r in rows if len(r)]
    if not some:
        return no_repairs(crs)
    table = gpd.GeoDataFrame(pd.concat(some, ignore_index=True), geometry="geometry", crs=crs)
    kinds = {kind: n for n, kind in enumerate(REPAIRS["what"].choices)}
    table = table.assign(
        distance_m=table["distance_m"].astype(float).round(3),
        other_id=table["other_id"].astype(object),
        kind=table["what"].map(kinds),
        x=table.geometry.x,
        y=table.geometry.y,
    ).sort_values(["kind", "pipe_id", "other_id", "x", "y"], kind="stable", ignore_index=True)
    return table[list(REPAIRS.names())]


def oddities(
    layer: gpd.GeoDataFrame,
    nodes: gpd.GeoDataFrame,
    pipes: gpd.GeoDataFrame,
    *,
    tolerance_m: float,
) -> list[pd.DataFrame]:
    """What the built network keeps though it may be a slip: loops, twins and crossings.

    `layer` are the lines the parts in `pipes` were cut from, in the same order.
    """
    return [
        *_loops(pipes, tolerance_m),
        _twins(pipes),
        _crossings(layer, nodes, pipes, tolerance_m),
    ]


def _loops(pipes: gpd.GeoDataFrame, tolerance_m: float) -> list[pd.DataFrame]:
    loop = pipes[pipes["start_position"] == pipes["end_position"]]
    drawn_m = shapely.length(loop.geometry.to_numpy())
    short = drawn_m <= tolerance_m
    return [
        repair_rows(
            what,
            pipe_id=loop["layer_pipe_id"].to_numpy()[rows],
            distance_m=drawn_m[rows] if what == "short_pipe" else np.nan,
            where=shapely.line_interpolate_point(
                loop.geometry.to_numpy()[rows], 0.5, normalized=True
            ),
        )
        for what, rows in (("short_pipe", short), ("self_loop", ~short))
    ]


def _twins(pipes: gpd.GeoDataFrame) -> pd.DataFrame:
    """Parts of two pipes between the same two nodes: every one after the first is told."""
    ends = np.sort(pipes[["start_position", "end_position"]].to_numpy(dtype=np.intp), axis=1)
    parts = pd.DataFrame(
        {
            "one": ends[:, 0],
            "two": ends[:, 1],
            "pipe_id": pipes["layer_pipe_id"].to_numpy(),
            "line": pipes.geometry.to_numpy(),
        }
    )
    parts = parts[parts["one"] != parts["two"]]
    beside = parts[parts.duplicated(["one", "two"], keep=False)]
    beside = beside.sort_values(["one", "two", "pipe_id"], kind="stable")
    first = beside.groupby(["one", "two"])["pipe_id"].transform("first")
    twins = beside.assign(first=first)[beside["pipe_id"] != first]
    return repair_rows(
        "parallel",
        pipe_id=twins["pipe_id"].to_numpy(),
        other_id=twins["first"].to_numpy(),
        where=shapely.line_interpolate_point(twins["line"].to_numpy(), 0.5, normalized=True),
    )


def _crossings(
    layer: gpd.GeoDataFrame, nodes: gpd.GeoDataFrame, pipes: gpd.GeoDataFrame, tolerance_m: float
) -> pd.DataFrame:
    """Where lines cross and no node of both is near: water does not pass from one to the other."""
    lines = layer.geometry.to_numpy()
    # Boxes first, so that each pair is looked at once.
    one, two = shapely.STRtree(lines).query(lines)
    one, two = one[one < two], two[one < two]
    shapely.prepare(lines)
    cross = shapely.crosses(lines[one], lines[two])
    one, two = one[cross], two[cross]
    met = shapely.intersection(lines[one], lines[two])
    points, pair = shapely.get_parts(met, return_index=True)
    own_points, own = _own_crossings(lines)
    points = np.concatenate([points, own_points])
    one, two = np.concatenate([one[pair], own]), np.concatenate([two[pair], own])
    apart = ~_meet(
        points, one, two, lines=len(lines), nodes=nodes, pipes=pipes, reach_m=tolerance_m
    )
    names = layer.index.to_numpy()
    return repair_rows(
        "crossing", pipe_id=names[one[apart]], other_id=names[two[apart]], where=points[apart]
    )


def _own_crossings(lines: Any) -> tuple[Any, npt.NDArray[np.intp]]:
    """Points at which a line crosses itself, and the line."""
    tangled = np.flatnonzero(~shapely.is_simple(lines))
    pieces, owner = shapely.get_parts(shapely.node(lines[tangled]), return_index=True)
    ends = np.concatenate([shapely.get_point(pieces, 0), shapely.get_point(pieces, -1)])
    spots = pd.DataFrame({"line": tangled[np.concatenate([owner, owner])], "end": ends})
    spots["x"], spots["y"] = shapely.get_x(ends), shapely.get_y(ends)
    meeting = spots.groupby(["line", "x", "y"])["end"].agg(["first", "size"]).reset_index()
    meeting = meeting[meeting["size"] > 3]
    return meeting["first"].to_numpy(dtype=object), meeting["line"].to_numpy(dtype=np.intp)


def _meet(
    points: Any,
    one: npt.NDArray[np.intp],
    two: npt.NDArray[np.intp],
    *,
    lines: int,
    nodes: gpd.GeoDataFrame,
    pipes: gpd.GeoDataFrame,
    reach_m: float,
) -> npt.NDArray[np.bool_]:
    """Whether both lines have a node in common near each point."""
    meet = np.zeros(len(points), dtype=bool)
    if not len(points) or not len(nodes):
        return meet
    at = np.column_stack([shapely.get_x(points), shapely.get_y(points)])
    spots = np.column_stack([nodes.geometry.x, nodes.geometry.y])
    # A node lies up to the tolerance from an end, and the end up to it from where lines cross.
    near = cKDTree(spots).query_ball_point(at, 2.0 * reach_m)
    row = np.repeat(np.arange(len(points)), [len(n) for n in near])
    node = np.concatenate([np.asarray(n, dtype=np.int64) for n in near]).astype(np.int64)
    line = pipes["line"].to_numpy(dtype=np.int64)
    size = max(lines, 1)
    on = np.unique(np.concatenate([pipes[c].to_numpy(dtype=np.int64) * size + line for c in _ENDS]))
    both = np.isin(node * size + one[row], on) & np.isin(node * size + two[row], on)
    meet[row[both]] = True
    return meet


_ENDS = ("start_position", "end_position")
