"""Points evenly along pipes: what lies near a pipe is told by the share of them that do."""

from __future__ import annotations

from typing import Any

import numpy as np
import numpy.typing as npt
import shapely

APART_M = 5.0
"""Points no farther apart than this on pipes of usual length: a share is right to half a step."""
_LEAST, _MOST = 8, 400
Positions = npt.NDArray[np.intp]
Points = npt.NDArray[np.object_]
Reals = npt.NDArray[np.float64]


def points_along(lines: Any) -> tuple[Positions, Points]:
    """Points along lines in metres, and the position in `lines` of the line of each.

    Each stands in the middle of an equal step, so that a share of points is a share of length. A
    line without length, or none at all, has no points.
    """
    shapes = shapely.force_2d(np.asarray(lines, dtype=object))
    length_m = np.nan_to_num(shapely.length(shapes))
    count = np.clip(np.ceil(length_m / APART_M), _LEAST, _MOST).astype(np.intp)
    count[length_m <= 0] = 0
    owner = np.repeat(np.arange(len(shapes)), count)
    first = np.cumsum(count) - count
    share = (np.arange(len(owner)) - first[owner] + 0.5) / count[owner]
    points = shapely.line_interpolate_point(shapes[owner], share, normalized=True)
    return owner, np.asarray(points, dtype=object)


def near_lines(points: Points, ways: Any, *, near_m: float) -> tuple[Positions, Positions, Reals]:
    """Pairs of a point and a line within `near_m` of it, and how far apart, to the millimetre.

    So rounded a tie is a tie on any machine.
    """
    flat = shapely.force_2d(np.asarray(ways, dtype=object))
    point, way = shapely.STRtree(flat).query(points, predicate="dwithin", distance=near_m)
    return point, way, np.round(shapely.distance(points[point], flat[way]), 3)
