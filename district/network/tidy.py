"""Pipes as people draw them: lines without length and lines drawn twice are left out."""

from __future__ import annotations

import geopandas as gpd
import numpy as np
import numpy.typing as npt
import pandas as pd
import shapely

from district.network.repairs import repair_rows
from district.network.snap import end_points, joined

ZERO_M = 0.001
"""A line no longer than this has no length: it is a slip of the mouse."""
_SAME_SHARE = 0.1
"""Two short lines side by side in a chamber are within the tolerance of each other, and still
two: to be one line they must also lie within this share of their length."""


def tidied(
    layer: gpd.GeoDataFrame, *, tolerance_m: float
) -> tuple[gpd.GeoDataFrame, list[pd.DataFrame]]:
    """The oriented layer less lines without length and copies, and what was left out (rows of
    table REPAIRS).

    A copy has both ends where the other has them and runs within the tolerance of it all along;
    the first by id is kept.
    """
    lines = layer.geometry.to_numpy()
    length_m = shapely.length(lines)
    flat = length_m <= ZERO_M
    told = [
        repair_rows(
            "zero_length",
            pipe_id=layer.index.to_numpy()[flat],
            distance_m=length_m[flat],
            where=shapely.get_point(lines[flat], 0),
        )
    ]
    layer, lines = layer[~flat], lines[~flat]
    kept = copies(lines, tolerance_m=tolerance_m)
    copy = np.flatnonzero(kept >= 0)
    names = layer.index.to_numpy()
    told.append(
        repair_rows(
            "duplicate",
            pipe_id=names[copy],
            other_id=names[kept[copy]],
            distance_m=shapely.hausdorff_distance(lines[copy], lines[kept[copy]]),
            where=shapely.line_interpolate_point(lines[copy], 0.5, normalized=True),
        )
    )
    return layer[kept < 0], told


def copies(lines: npt.NDArray[np.object_], *, tolerance_m: float) -> npt.NDArray[np.intp]:
    """For each line the position of the earlier one it is a copy of, -1 for all others."""
    kept = np.full(len(lines), -1, dtype=np.intp)
    group = joined(end_points(lines), tolerance_m=tolerance_m).reshape(-1, 2)
    ends = pd.DataFrame(np.sort(group, axis=1), columns=["one", "two"])
    ends["line"] = np.arange(len(lines))
    shared = ends[ends.duplicated(["one", "two"], keep=False)]
    pairs = shared.merge(shared, on=["one", "two"])
    pairs = pairs[pairs["line_x"] < pairs["line_y"]]
    first, second = pairs["line_x"].to_numpy(), pairs["line_y"].to_numpy()
    # Between corners too, or a line that cuts a corner would pass for one that follows it.
    apart_m = shapely.hausdorff_distance(lines[first], lines[second], densify=0.1)
    short_m = np.minimum(shapely.length(lines[first]), shapely.length(lines[second]))
    same = apart_m <= np.minimum(tolerance_m, _SAME_SHARE * short_m)
    for one, two in sorted(zip(first[same].tolist(), second[same].tolist(), strict=True)):
        if kept[one] < 0 and kept[two] < 0:
            kept[two] = one
    return kept
