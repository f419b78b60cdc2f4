"""Breaks told by their place given to a pipe, and rows that tell one break twice counted once."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace
from typing import Any

import geopandas as gpd
import numpy as np
import pandas as pd
import shapely
from pyproj import Transformer

from district.errors import Finding
from district.words import brief, missing, natural_key

NEAR_M = 30.0
"""A break so near to a pipe was on one. Assumption: the width of a street, a slip of the hand."""
_PLACE = ["longitude_deg", "latitude_deg"]
_WGS_84 = 4326
_SAME_M = 1e-3
_BEYOND_DEG = 0.5
"""A place farther than this from all pipes is not measured: no plane reaches so far."""


def settled_breaks(
    breaks: pd.DataFrame, pipes: gpd.GeoDataFrame, *, file: str
) -> tuple[pd.DataFrame, list[Finding]]:
    """Table BREAKS with the pipe of each break that tells its place, and none of them twice.

    Parameters: `breaks` table BREAKS, `pipes` table PIPES in a metric CRS, `file` what the user
    calls the breaks. A break without a pipe_id was on the nearest pipe within `NEAR_M` that lay
    there in its year, as far as that is known, in use today or not; of several as near it is the
    first by id. One farther off keeps an empty pipe_id and is told. Rows alike in pipe, date and
    kind are one break, unless their places differ. Rows are named by date, as they may be sorted.
    """
    if breaks.empty:
        return breaks, []
    placed, found = _placed(breaks, pipes, file)
    again = _again(placed)
    copies = [
        Finding(
            "warning",
            file,
            f"row {_name(row)} on {row.pipe_id}",
            got=f"the same {row.kind} break a second time",
            expected="each break once",
            remedy="Remove the copy; until then it counts once",
        )
        for row in placed[again].itertuples()
    ]
    return placed[~again].reset_index(drop=True), [*found, *copies]


def gaps_as_warnings(findings: Iterable[Finding]) -> list[Finding]:
    """The findings on the breaks, of which an empty cell in a row is no error: old records have
    such rows, and the rest of them still tells. A column that is not there remains one."""
    return [
        replace(
            one,
            severity="warning",
            remedy="Fill it in where it is known; until then this break counts for no pipe",
        )
        if one.severity == "error" and one.got == "nothing" and one.place.startswith("row ")
        else one
        for one in findings
    ]


def _again(breaks: pd.DataFrame) -> pd.Series[bool]:
    """Rows that repeat an earlier one. A row without a place is the same as any beside it."""
    key = ["pipe_id", "date", "kind"]
    whole = breaks[key].notna().all(axis=1)
    same = breaks.duplicated([*key, *_PLACE])
    unplaced = breaks[_PLACE].isna().any(axis=1)
    # Of rows with and without a place the former say more.
    ordered = breaks.assign(unplaced=unplaced).sort_values("unplaced", kind="stable")
    beside = (ordered.duplicated(key) & ordered["unplaced"]).reindex(breaks.index)
    return whole & (same | beside)


def _placed(
    breaks: pd.DataFrame, pipes: gpd.GeoDataFrame, file: str
) -> tuple[pd.DataFrame, list[Finding]]:
    wanted = breaks["pipe_id"].map(missing).astype(bool) & breaks[_PLACE].notna().all(axis=1)
    drawn = pipes[pipes.geometry.notna() & ~pipes.geometry.is_empty & pipes["pipe_id"].notna()]
    drawn = drawn[drawn["status"] != "planned"]
    if not wanted.any() or drawn.empty or drawn.crs is None:
        return breaks, []
    rows = breaks.index[wanted]
    points = _points(breaks.loc[rows], drawn)
    # By id, so that the first of several as near is the same however the file is sorted.
    order = sorted(range(len(drawn)), key=lambda n: natural_key(str(drawn["pipe_id"].iloc[n])))
    drawn = drawn.iloc[order]
    lines = shapely.force_2d(drawn.geometry.to_numpy())
    tree = shapely.STRtree(lines)
    point, pipe = tree.query(points, predicate="dwithin", distance=NEAR_M)
    year = breaks.loc[rows, "date"].dt.year.to_numpy(dtype=float)[point]
    laid = drawn["installed_year"].to_numpy(dtype=float)[pipe]
    removed = drawn["removed_year"].to_numpy(dtype=float)[pipe]
    # What is not known (NaN) rules nothing out.
    there = ~(laid > year) & ~(removed < year)
    point, pipe = point[there], pipe[there]
    gap = np.round(shapely.distance(points[point], lines[pipe]) / _SAME_M)
    best = np.lexsort((pipe, gap, point))
    first = best[np.unique(point[best], return_index=True)[1]]
    named = breaks["pipe_id"].copy()
    named[rows[point[first]]] = drawn["pipe_id"].to_numpy()[pipe[first]]
    lost = np.setdiff1d(np.arange(len(rows)), point)
    told = [_far(breaks.loc[rows[n]], points[n], tree, drawn, file) for n in lost]
    return breaks.assign(pipe_id=named), told


def _points(breaks: pd.DataFrame, pipes: gpd.GeoDataFrame) -> Any:
    """Points in the CRS of the pipes; None where a place is far from all of them."""
    turn = Transformer.from_crs(_WGS_84, pipes.crs, always_xy=True)
    left, low, right, high = (float(v) for v in pipes.total_bounds)
    back = Transformer.from_crs(pipes.crs, _WGS_84, always_xy=True)
    west, south, east, north = back.transform_bounds(left, low, right, high)
    lon, lat = (breaks[name].to_numpy(dtype=float) for name in _PLACE)
    near = (lon > west - _BEYOND_DEG) & (lon < east + _BEYOND_DEG)
    near &= (lat > south - _BEYOND_DEG) & (lat < north + _BEYOND_DEG)
    x, y = turn.transform(np.where(near, lon, west), np.where(near, lat, south))
    return np.where(near, shapely.points(x, y), None)


def _far(
    row: pd.Series[Any], point: Any, tree: shapely.STRtree, pipes: gpd.GeoDataFrame, file: str
) -> Finding:
    got = f"a place far from all pipes ({row.longitude_deg:.5f}, {row.latitude_deg:.5f})"
    if point is not None:
        gap_m = float(shapely.distance(tree.geometries, point).min())
        nearest = pipes["pipe_id"].to_numpy()[
            int(np.argmax(shapely.distance(tree.geometries, point) <= gap_m + _SAME_M))
        ]
        got = f"a place {brief(gap_m)} m from the nearest pipe, {nearest}"
        if gap_m <= NEAR_M:
            got += ", which did not lie there then"
    return Finding(
        "warning",
        file,
        f"row {_name(row)}",
        ", ".join(_PLACE),
        got=got,
        expected=f"a place within {NEAR_M:g} m of a pipe that lay there then",
        remedy="Correct the place or give a pipe_id; until then this break counts for no pipe",
    )


def _name(row: Any) -> str:
    return "without date" if missing(row.date) else f"of {row.date:%Y-%m-%d}"
