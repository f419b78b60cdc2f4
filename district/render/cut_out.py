"""A cut-out of the map for a sheet of paper: black on white, to be read by torchlight."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from math import floor, log10
from typing import Any

import geopandas as gpd
import numpy as np
from shapely import box
from shapely.geometry import LineString, Point

from district.render.drawn import as_svg, styled
from district.results import Layers

_SIZE_IN = (4.9, 3.5)
_MARGIN_SHARE, _LEAST_M = 0.12, 120.0
_MOST_LABELS = 14
Box = tuple[float, float, float, float]
"""West, south, east and north, in metres."""
_INK, _PIPE, _HALO = "#000000", "#8a8a8a", "#ffffff"


def cut_out(
    layers: Layers,
    *,
    lines: gpd.GeoDataFrame,
    boxed: Iterable[str] = (),
    dots: gpd.GeoSeries | None = None,
    stars: gpd.GeoSeries | None = None,
) -> str:
    """Pipes about what is told, as SVG with a scale bar and north; the same bytes from the same.

    Parameters: `lines` drawn thick, with `label` ('' for none); `boxed` ids of valves drawn as
    boxed crosses with their ids, the others small; `dots` and `stars` points. All in the layers'
    CRS.
    """
    shut = layers.valves[layers.valves["valve_id"].isin(list(boxed))]
    dotted = [] if dots is None else list(dots)
    starred = [] if stars is None else list(stars)
    frame = _frame([*lines.geometry, *shut.geometry, *starred])
    around = box(*frame)
    with styled(figsize=_SIZE_IN, dpi=72) as drawing:
        axes = drawing.add_axes((0.0, 0.0, 1.0, 1.0))
        axes.set_axis_off()
        axes.set_aspect("equal")
        axes.set_xlim(frame[0], frame[2])
        axes.set_ylim(frame[1], frame[3])
        near = layers.pipes.geometry[layers.pipes.geometry.intersects(around)]
        for part in (part for line in near for part in _parts(line)):
            axes.plot(*part.xy, color=_PIPE, linewidth=1.1, solid_capstyle="round", zorder=1)
        for part in (part for line in lines.geometry for part in _parts(line)):
            axes.plot(*part.xy, color=_INK, linewidth=4.2, solid_capstyle="butt", zorder=3)
        others = layers.valves[layers.valves.geometry.within(around)]
        for valve in others[~others["valve_id"].isin(shut["valve_id"])].itertuples():
            inside = _INK if valve.state == "shut" else _HALO
            _draw(axes, valve.geometry, "d", size=4, inside=inside, edge=0.7, order=4)
        for point in dotted:
            if around.contains(point):
                _draw(axes, point, "o", size=2.6, inside=_HALO, edge=0.7, order=5)
        for point in shut.geometry:
            _draw(axes, point, "s", size=8, inside=_HALO, edge=1.6, order=6)
            _draw(axes, point, "x", size=5, inside=_INK, edge=1.3, order=7)
        for point in starred:
            _draw(axes, point, "*", size=13, inside=_INK, edge=0.0, order=8)
        _label(axes, lines, shut, frame)
        _scale(axes, *frame)
        return as_svg(drawing)


def _draw(
    axes: Any, point: Any, marker: str, *, size: float, inside: str, edge: float, order: int
) -> None:
    axes.plot(
        point.x, point.y, marker=marker, markersize=size, markerfacecolor=inside, color=_INK,
        markeredgecolor=_INK, markeredgewidth=edge, linestyle="none", zorder=order,
    )  # fmt: skip


def _frame(shown: Sequence[Any]) -> Box:
    """Bounds in metres: all that is shown with a margin, in the shape of the drawing."""
    wanted = [g for g in shown if g is not None and not g.is_empty]
    if not wanted:
        wanted = [Point(0, 0)]
    bounds = np.array([g.bounds for g in wanted])
    west, south = bounds[:, :2].min(axis=0)
    east, north = bounds[:, 2:].max(axis=0)
    wide = max((east - west) * (1 + 2 * _MARGIN_SHARE), _LEAST_M)
    high = max((north - south) * (1 + 2 * _MARGIN_SHARE), _LEAST_M)
    shape = _SIZE_IN[0] / _SIZE_IN[1]
    wide, high = max(wide, high * shape), max(high, wide / shape)
    middle = (west + east) / 2, (south + north) / 2
    return (
        float(middle[0] - wide / 2),
        float(middle[1] - high / 2),
        float(middle[0] + wide / 2),
        float(middle[1] + high / 2),
    )


def _parts(line: Any) -> list[LineString]:
    if line is None or line.is_empty:
        return []
    return [p for p in getattr(line, "geoms", [line]) if isinstance(p, LineString)]


def _label(axes: Any, lines: gpd.GeoDataFrame, shut: gpd.GeoDataFrame, frame: Box) -> None:
    """Valves to shut by id, lines by their label, where there is room for them."""
    west, south, east, north = frame
    taken = [_SCALE, _NORTH]
    taken += [_mark(v.geometry.x, v.geometry.y, frame) for v in shut.itertuples()]

    def put(at: Any, text: str, *, weight: str, size: int) -> None:
        across, up = (at.x - west) / (east - west), (at.y - south) / (north - south)
        room = _LETTER * size * len(text) / 72 / _SIZE_IN[0], 1.5 * size / 72 / _SIZE_IN[1]
        for spot in _spots(across, up, *room):
            if not any(_meet(spot, other) for other in taken) and _inside(spot):
                taken.append(spot)
                axes.text(
                    spot[0], (spot[1] + spot[3]) / 2, text, transform=axes.transAxes, ha="left",
                    va="center", fontsize=size, fontweight=weight, color=_INK, zorder=9,
                    bbox={"boxstyle": "square,pad=0.05", "fc": _HALO, "ec": "none", "alpha": 0.8},
                )  # fmt: skip
                return

    for valve in shut.head(_MOST_LABELS).itertuples():
        put(valve.geometry, str(valve.valve_id), weight="bold", size=10)
    for line in lines[lines["label"] != ""].head(_MOST_LABELS).itertuples():
        parts = _parts(line.geometry)
        if parts:
            middle = max(parts, key=lambda p: p.length).interpolate(0.5, normalized=True)
            put(middle, str(line.label), weight="normal", size=9)


Spot = tuple[float, float, float, float]
"""West, south, east and north of a box, in shares of the drawing."""
_LETTER = 0.75
"""Width of a letter over its size: capitals and digits of a bold sans serif, with some to spare."""
_SCALE: Spot = (0.0, 0.0, 0.3, 0.12)
_NORTH: Spot = (0.92, 0.8, 1.0, 1.0)


def _mark(x: float, y: float, frame: Box) -> Spot:
    west, south, east, north = frame
    across, up = (x - west) / (east - west), (y - south) / (north - south)
    return across - 0.013, up - 0.018, across + 0.013, up + 0.018


def _spots(across: float, up: float, wide: float, high: float) -> list[Spot]:
    """Where a label may stand beside a point: right, left, above, below, then farther off."""
    found = []
    for far in (0.018, 0.05):
        for west, south in (
            (across + far, up - high / 2),
            (across - far - wide, up - high / 2),
            (across - wide / 2, up + 1.4 * far),
            (across - wide / 2, up - 1.4 * far - high),
        ):
            found.append((west, south, west + wide, south + high))
    return found


def _meet(one: Spot, other: Spot) -> bool:
    return one[0] < other[2] and other[0] < one[2] and one[1] < other[3] and other[1] < one[3]


def _inside(spot: Spot) -> bool:
    return spot[0] > 0 and spot[1] > 0 and spot[2] < 1 and spot[3] < 1


def _scale(axes: Any, west: float, south: float, east: float, north: float) -> None:
    """A scale bar of a round length, and north."""
    wide, high = east - west, north - south
    length = 10 ** floor(log10(wide / 4))
    length *= max(n for n in (1, 2, 5) if n * length <= wide / 4)
    x, y = west + 0.03 * wide, south + 0.05 * high
    axes.plot([x, x + length], [y, y], color=_INK, linewidth=2.4, solid_capstyle="butt", zorder=9)
    axes.text(
        x, y + 0.018 * high, f"{length:g} m", fontsize=9.5, color=_INK, zorder=9,
        bbox={"boxstyle": "square,pad=0.1", "fc": _HALO, "ec": "none"},
    )  # fmt: skip
    axes.annotate(
        "N", (east - 0.04 * wide, north - 0.04 * high),
        xytext=(east - 0.04 * wide, north - 0.15 * high), ha="center", fontsize=10,
        fontweight="bold", zorder=9, annotation_clip=False,
        arrowprops={"arrowstyle": "->", "lw": 1.4, "color": _INK},
    )  # fmt: skip
