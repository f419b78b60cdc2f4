"""Stretches as the map and the report show them: parts of a pipe joined, figures beside."""

from __future__ import annotations

import itertools
from typing import Any

import geopandas as gpd
import numpy as np
import pandas as pd
from shapely import LineString, MultiLineString, Point, get_parts
from shapely.ops import substring

from district.results import DistrictReport
from district.schema.outputs import STRETCHES
from district.words import missing, natural_key

_PIPE = ("material", "diameter_mm", "installed_year")
TOLD_SHARE = 0.6
"""A place along a stretch is told where its limits span less than this share of the stretch. Of a
leak that may be anywhere they span 0.95."""
_JOINED_M = 0.02
"""Ends of parts so close are one point: parts are cut from one line."""


def drawn_stretches(report: DistrictReport) -> gpd.GeoDataFrame:
    """One row a stretch, in the order of the pipes: the columns of STRETCHES, the pipe's own
    material, diameter and year, and the joined line. `searched` tells whether its zone has a
    search set. A pipe without likelihood stands for itself, its figures empty.

    The line runs from the start of the first part to the end of the last, as `along_m`, `from_m`
    and `to_m` are counted.
    """
    pipes, found = report.layers.pipes, report.location
    stretch = dict(zip(found.likelihood["pipe_id"], found.likelihood["stretch_id"], strict=True))
    named = np.array([stretch.get(p, p) for p in pipes["pipe_id"]], dtype=object)
    rows: list[dict[str, Any]] = []
    for name, parts in pipes.groupby(named, sort=False):
        first = parts.iloc[0]
        rows.append(
            {
                "stretch_id": name,
                "cell_id": first["cell_id"],
                "length_m": float(parts["length_m"].sum()),
                **{column: first.get(column) for column in _PIPE},
                "geometry": _joined(parts),
            }
        )
    columns = ["stretch_id", "cell_id", "length_m", *_PIPE, "geometry"]
    drawn = gpd.GeoDataFrame(
        pd.DataFrame(rows, columns=columns), geometry="geometry", crs=pipes.crs
    )
    fresh = [c for c in STRETCHES.names() if c not in drawn.columns]
    figures = found.stretches.reindex(columns=["stretch_id", *fresh]).drop_duplicates("stretch_id")
    drawn["searched"] = drawn["cell_id"].isin(found.search_sets["cell_id"])
    return drawn.merge(figures, on="stretch_id", how="left", sort=False)


def walked_pieces(drawn: gpd.GeoDataFrame) -> gpd.GeoDataFrame:
    """`drawn_stretches` with each line cut to the piece to walk; the whole line where none is
    told."""
    cut = [
        piece(
            row.geometry, _share(row.from_m, row.length_m, 0.0), _share(row.to_m, row.length_m, 1.0)
        )
        for row in drawn.itertuples()
    ]
    return drawn.set_geometry(gpd.GeoSeries(cut, index=drawn.index, crs=drawn.crs))


def place_along(drawn: gpd.GeoDataFrame) -> gpd.GeoDataFrame:
    """The likeliest point of each stretch where it is told, rows of `drawn_stretches`."""
    told = drawn[[bool(likeliest_told(row)) for row in drawn.to_dict("records")]]
    points = [
        _point_at(row.geometry, _share(row.along_m, row.length_m, 0.5)) for row in told.itertuples()
    ]
    return told.set_geometry(gpd.GeoSeries(points, index=told.index, crs=drawn.crs))


def likeliest_told(row: Any) -> bool:
    """Whether anything tells where along a stretch its leak is (a row of STRETCHES)."""
    low, high, length_m = (row.get(n) for n in ("along_m_low", "along_m_high", "length_m"))
    if missing(row.get("along_m")) or missing(low) or missing(high) or missing(length_m):
        return False
    return bool(high - low < TOLD_SHARE * length_m)


def piece(line: Any, from_share: float, to_share: float) -> Any:
    """The piece of a line between two shares of its length; of a line in parts, part after part."""
    if line is None or line.is_empty or (from_share <= 0 and to_share >= 1):
        return line
    parts = get_parts(line)
    lengths = np.array([part.length for part in parts])
    before = np.cumsum(lengths) - lengths
    low, high = from_share * lengths.sum(), to_share * lengths.sum()
    last = len(parts) - 1
    cut = [
        substring(part, max(low - start, 0.0), min(high - start, length))
        for n, (part, start, length) in enumerate(zip(parts, before, lengths, strict=True))
        if start <= high and (low < start + length or n == last)
    ]
    lines = [c for c in cut if isinstance(c, LineString)]
    if not lines:
        return line
    return lines[0] if len(lines) == 1 else MultiLineString(lines)


def _point_at(line: Any, share: float) -> Any:
    end = piece(line, 0.0, share) if share > 0 else line
    last = get_parts(end)[-1]
    return Point(last.coords[-1] if share > 0 else get_parts(line)[0].coords[0])


def _share(along_m: Any, length_m: float, otherwise: float) -> float:
    if missing(along_m) or not length_m > 0:
        return otherwise
    return min(max(float(along_m) / length_m, 0.0), 1.0)


def _joined(parts: gpd.GeoDataFrame) -> Any:
    """The lines of the parts as one, in the order that their names count them."""
    order = sorted(range(len(parts)), key=lambda n: natural_key(str(parts["pipe_id"].iloc[n])))
    lines = [parts.geometry.iloc[n] for n in order]
    there = [p for line in lines if line is not None for p in get_parts(line) if not p.is_empty]
    if len(there) < 2:
        return there[0] if there else lines[0]
    corners = [list(part.coords) for part in there]
    chained = all(
        np.hypot(a[-1][0] - b[0][0], a[-1][1] - b[0][1]) <= _JOINED_M
        for a, b in itertools.pairwise(corners)
    )
    if not chained:
        return MultiLineString(there)
    return LineString([*corners[0], *(xy for one in corners[1:] for xy in one[1:])])
