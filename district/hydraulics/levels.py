"""Level of the ground at every node, from the levels that connections and gauges tell."""

from __future__ import annotations

from typing import Any

import numpy as np
from scipy.spatial import cKDTree

from district.hydraulics.model import Reals

NEIGHBOURS = 6
LEAST_SPREAD_M = 1.0
"""95 % limit of an interpolated level at best: mains lie below ground (common practice, no
source)."""
_SAME_PLACE_M = 1.0


def interpolated_level_m(
    x_y_m: Any, *, known_x_y_m: Any, known_level_m: Any
) -> tuple[Reals, float]:
    """Level at each point (n, 2), and the 95 % limit of how far one may be off.

    The known levels (k, 2) and (k) around a point count by the inverse square of their distance;
    the limit is what leaving each known level out shows. Without a known level: NaN.
    """
    points = np.asarray(x_y_m, dtype=float).reshape(-1, 2)
    places = np.asarray(known_x_y_m, dtype=float).reshape(-1, 2)
    levels = np.asarray(known_level_m, dtype=float)
    told = np.isfinite(levels)
    places, levels = places[told], levels[told]
    if not len(levels):
        return np.full(len(points), np.nan), np.nan
    tree = cKDTree(places)
    found = _weighted(tree, points, levels, skip=0)
    if len(levels) == 1:
        return found, np.nan
    missed = levels - _weighted(tree, places, levels, skip=1)
    return found, float(max(LEAST_SPREAD_M, 1.96 * np.sqrt(np.mean(missed**2))))


def _weighted(tree: cKDTree, points: Reals, levels: Reals, *, skip: int) -> Reals:
    count = min(NEIGHBOURS + skip, len(levels))
    distance, which = tree.query(points, k=count)
    distance = distance.reshape(len(points), count)[:, skip:]
    which = which.reshape(len(points), count)[:, skip:]
    weight = 1.0 / np.maximum(distance, _SAME_PLACE_M) ** 2
    return np.asarray((weight * levels[which]).sum(axis=1) / weight.sum(axis=1))
