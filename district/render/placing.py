"""Where labels stand, clear of the symbols, and symbols, clear of each other."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Sequence
from typing import Any

import numpy as np
from shapely import contains_xy, distance, points
from shapely.geometry.base import BaseGeometry

_STEPS = 15
# A label is about four times as wide as high: what lies beside it is nearer than what is above.
_SHAPE = 4.0


def label_spot(area: BaseGeometry, symbols: Sequence[tuple[float, float]]) -> tuple[float, float]:
    """The point of `area` (metres) a label stands at: far from `symbols`, else near the middle.

    Looks over a grid inside the area; an area too thin for the grid gets its representative
    point. The same point from the same input.
    """
    middle = area.representative_point()
    west, south, east, north = area.bounds
    if not symbols:
        return float(middle.x), float(middle.y)
    x, y = (
        axis.ravel()
        for axis in np.meshgrid(
            np.linspace(west, east, _STEPS + 2)[1:-1], np.linspace(south, north, _STEPS + 2)[1:-1]
        )
    )
    inside = contains_xy(area, x, y)
    x, y = np.append(x[inside], middle.x), np.append(y[inside], middle.y)
    placed = np.asarray(symbols, dtype=float)
    away = np.hypot((x[:, None] - placed[:, 0]) / _SHAPE, y[:, None] - placed[:, 1]).min(axis=1)
    # The edge counts as a neighbour too, or every label would flee to the border of its zone.
    edge = distance(area.boundary, points(x, y))
    best = int(np.lexsort((np.round(away, 3), np.round(np.minimum(away, edge), 3)))[-1])
    return float(x[best]), float(y[best])


def side_by_side(features: Iterable[dict[str, Any]]) -> None:
    """Give each of several point features at one place its number there, as property `beside`.

    A meter, the valve behind it and a sensor of the same building are often drawn at one point: the
    map sets them in a row, or only the last could be clicked. The features are changed in place.
    """
    there: Counter[tuple[float, ...]] = Counter()
    for feature in features:
        place = tuple(feature["geometry"]["coordinates"])
        feature["properties"]["beside"] = there[place]
        there[place] += 1
