"""What lies together: ends of pipes, ends on other pipes, devices on pipes."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import geopandas as gpd
import numpy as np
import numpy.typing as npt
import pandas as pd
import shapely
from pyproj import Transformer
from scipy.sparse import coo_array
from scipy.sparse.csgraph import connected_components
from scipy.spatial import cKDTree

Floats = npt.NDArray[np.float64]
AT_END_M = 0.05
"""A device nearer than this to a pipe's end stands at the end: no sliver is cut off."""


def oriented(pipes: gpd.GeoDataFrame) -> gpd.GeoDataFrame:
    """The pipes in use sorted by id, each drawn from its western (then southern) end.

    Results must not depend on the order of rows, the direction of digitising or the CRS, so the
    order of ends is taken from longitude and latitude, to about a centimetre.
    """
    used = pipes[pipes["status"] == "in_use"].sort_values("pipe_id", kind="stable")
    used = used.set_index("pipe_id", drop=False)
    used.index.name = None
    lines = shapely.remove_repeated_points(shapely.force_2d(used.geometry.to_numpy()))
    ends = np.vstack([end_points(lines)[0::2], end_points(lines)[1::2]])
    # A ring begins where it ends: of its two ways round, the one that sets out westward is taken.
    ring = np.flatnonzero((ends[: len(lines)] == ends[len(lines) :]).all(axis=1))
    ends[ring] = _xy(shapely.line_interpolate_point(lines[ring], 0.25, normalized=True))
    ends[len(lines) + ring] = _xy(
        shapely.line_interpolate_point(lines[ring], 0.75, normalized=True)
    )
    if used.crs is not None and len(ends):
        to_degrees = Transformer.from_crs(used.crs, 4326, always_xy=True)
        ends = np.column_stack(to_degrees.transform(ends[:, 0], ends[:, 1]))
        ends = ends.round(7)
    first, last = ends[: len(lines)], ends[len(lines) :]
    backwards = (first[:, 0] > last[:, 0]) | (
        (first[:, 0] == last[:, 0]) & (first[:, 1] > last[:, 1])
    )
    lines = np.where(backwards, shapely.reverse(lines), lines)
    return used.set_geometry(gpd.GeoSeries(lines, index=used.index, crs=used.crs))


def on_pipe(
    points: gpd.GeoSeries, lines: Floats | Any, *, reach_m: float
) -> tuple[npt.NDArray[np.intp], Floats, Floats]:
    """The line each point stands on: position of the line (-1: none in reach), distance, chainage.

    Of lines equally near to a centimetre (a point at a junction) the first counts, so that the
    answer does not turn on rounding.
    """
    place = np.full(len(points), -1, dtype=np.intp)
    distance = np.full(len(points), np.inf)
    along = np.zeros(len(points))
    if not len(points) or not len(lines):
        return place, distance, along
    shapes = shapely.force_2d(points.to_numpy())
    tree = shapely.STRtree(lines)
    (row, _), near = tree.query_nearest(shapes, max_distance=reach_m, return_distance=True)
    distance[row] = near
    reached = np.flatnonzero(np.isfinite(distance))
    rows, candidates = tree.query(
        shapes[reached], predicate="dwithin", distance=distance[reached] + 0.01
    )
    firsts = pd.Series(candidates).groupby(reached[rows]).min()
    place[firsts.index.to_numpy()] = firsts.to_numpy()
    on = place >= 0
    along[on] = shapely.line_locate_point(lines[place[on]], shapes[on])
    return place, distance, along


def tees(lines: Any, *, tolerance_m: float) -> list[tuple[int, float, int]]:
    """Where an end of one line meets the inside of another: (line, chainage, which end).

    Ends are numbered line * 2 (first) and line * 2 + 1 (last). Lines that merely cross do not
    meet: one may pass over the other. Chainage 0 or the line's length is an end that lies beside
    the end of the other line, within reach of the line though not of that end.
    """
    if not len(lines):
        return []
    spots = end_points(lines)
    ends = shapely.points(spots)
    # Boxes first: most pairs are a pipe and its own end, which need no measuring.
    reach = shapely.box(*(spots - tolerance_m).T, *(spots + tolerance_m).T)
    end, line = shapely.STRtree(lines).query(reach)
    other = end // 2 != line
    end, line = end[other], line[other]
    near = shapely.dwithin(ends[end], lines[line], tolerance_m)
    end, line = end[near], line[near]
    along = shapely.line_locate_point(lines[line], ends[end])
    length_m = shapely.length(lines[line])
    inside = (along > tolerance_m) & (along < length_m - tolerance_m)
    late = along > length_m / 2
    from_corner_m = np.hypot(*(spots[end] - spots[2 * line + late]).T)
    beside = ~inside & (from_corner_m > tolerance_m)
    along = np.where(inside, along, np.where(late, length_m, 0.0))
    met = inside | beside
    return sorted(zip(line[met].tolist(), along[met].tolist(), end[met].tolist(), strict=True))


def joined(
    points: Floats, *, tolerance_m: float, links: Sequence[tuple[int, int]] = (), count: int = 0
) -> npt.NDArray[np.intp]:
    """A group number for each point; points within the tolerance share one, numbered by first.

    `links` joins more pairs, also of points numbered from len(points) to `count` that nearness
    does not join.
    """
    size = max(len(points), count)
    if not size:
        return np.zeros(0, dtype=np.intp)
    near = cKDTree(points).query_pairs(tolerance_m, output_type="ndarray")
    pairs = np.concatenate([near, np.asarray(links, dtype=np.intp).reshape(-1, 2)])
    links_table = coo_array((np.ones(len(pairs)), (pairs[:, 0], pairs[:, 1])), shape=(size, size))
    _, group = connected_components(links_table, directed=False)
    _, first, again = np.unique(group, return_index=True, return_inverse=True)
    rank = np.empty(len(first), dtype=np.intp)
    rank[np.argsort(first)] = np.arange(len(first))
    return np.asarray(rank[again])


def _xy(points: Any) -> Floats:
    return np.column_stack([shapely.get_x(points), shapely.get_y(points)])


def end_points(lines: Any) -> Floats:
    """Coordinates of the ends, first and last of each line in turn, shape (2 n, 2)."""
    corners, owner = shapely.get_coordinates(lines, return_index=True)
    first = np.searchsorted(owner, np.arange(len(lines)))
    last = np.searchsorted(owner, np.arange(len(lines)), side="right") - 1
    return np.stack([corners[first], corners[last]], axis=1).reshape(-1, 2)
