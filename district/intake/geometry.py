"""Geometry as the user drew it: right kind, finite, where its CRS says, and in metres."""

from __future__ import annotations

from collections.abc import Callable
from functools import lru_cache
from typing import Any

import geopandas as gpd
import numpy as np
import pyproj
import shapely

from district.errors import Finding
from district.layer_settings import places
from district.schema.columns import Shape
from district.settings import FILE

_WORDS: dict[Shape, str] = {"Point": "a point", "LineString": "a line", "Polygon": "an area"}
_KINDS = {"Point": 0, "LineString": 1, "LinearRing": 2, "Polygon": 3}
_NAMES = (
    "a point",
    "a line",
    "a ring",
    "an area",
    "points",
    "lines",
    "areas",
    "shapes",
)
_MULTI = 4
_CURVES = (_KINDS["LineString"], _KINDS["LinearRing"])
_LINES, _AREAS = 5, 6
_LEAST_CORNERS = 4
_MARGIN_DEGREES = 1.0
_WGS84 = pyproj.CRS("EPSG:4326")
_SCALE_ERROR = 0.01
Geometries = np.ndarray[Any, np.dtype[np.object_]]


def from_wkb(wkb: Geometries) -> tuple[Geometries, np.ndarray[Any, np.dtype[np.bool_]]]:
    """Shapes without heights, and which could not be decoded (a line of one point, say).

    A line in parts that join end to end is one line.
    """
    shapes = shapely.force_2d(shapely.from_wkb(wkb, on_invalid="ignore"))
    several = np.flatnonzero(shapely.get_type_id(shapes) == _LINES)
    one = shapely.line_merge(shapes[several])
    whole = shapely.get_type_id(one) == _KINDS["LineString"]
    shapes[several[whole]] = one[whole]
    broken = np.array([b is not None for b in wkb], dtype=bool) & shapely.is_missing(shapes)
    return shapes, broken


def check_shapes(
    shapes: Geometries,
    broken: np.ndarray[Any, np.dtype[np.bool_]],
    *,
    shape: Shape,
    crs: pyproj.CRS | None,
    source: str,
    place: Callable[[int], str],
) -> tuple[Geometries, list[Finding]]:
    """The shapes with every unusable one None, and a finding for each of those.

    A collection of one part counts as that part, a closed line as the area within where areas
    are expected; areas may have several parts. `place` turns a position into words.
    """
    findings: list[Finding] = []
    shapes = shapes.copy()
    kinds = shapely.get_type_id(shapes)
    single = (kinds >= _MULTI) & (shapely.get_num_geometries(shapes) == 1)
    shapes[single] = shapely.get_geometry(shapes[single], 0)
    if shape == "Polygon":
        shapes, findings = _areas(shapes, source, place)
    kinds = shapely.get_type_id(shapes)
    kinds[(kinds == _AREAS) & (shape == "Polygon")] = _KINDS["Polygon"]
    got: dict[int, str] = {}
    for i in np.flatnonzero(shapely.is_missing(shapes)):
        got[int(i)] = "a geometry that cannot be read" if broken[i] else "no geometry"
    for i in np.flatnonzero(shapely.is_empty(shapes)):
        got[int(i)] = "an empty geometry"
    for i in np.flatnonzero((kinds >= 0) & (kinds != _KINDS[shape])):
        parts = int(shapely.get_num_geometries(shapes[i]))
        said = f"{parts} {_NAMES[kinds[i]]} in one feature" if kinds[i] >= _MULTI else None
        got.setdefault(int(i), said or _NAMES[kinds[i]])
    findings += [_defect(source, place(i), got[i], _WORDS[shape]) for i in sorted(got)]
    shapes[list(got)] = None
    whole = np.isfinite(shapely.bounds(shapes)).all(axis=1) & _finite(shapes)
    for i in np.flatnonzero(~whole & ~shapely.is_missing(shapes)):
        findings.append(
            _defect(source, place(int(i)), "an infinite or missing coordinate", "numbers only")
        )
        shapes[i] = None
    if crs is not None:
        for i in np.flatnonzero(_outside(shapes, crs)):
            west, south = shapely.bounds(shapes[i])[:2]
            findings.append(
                Finding(
                    "error",
                    source,
                    place(int(i)),
                    "geometry",
                    got=f"coordinates {west:.10g}, {south:.10g}",
                    expected=f"coordinates within the reach of {crs.name}",
                    remedy="Correct the geometry, or the coordinate reference system of the file",
                )
            )
            shapes[i] = None
    return shapes, findings


def _areas(
    shapes: Geometries, source: str, place: Callable[[int], str]
) -> tuple[Geometries, list[Finding]]:
    """Closed lines as areas, and outlines that cross themselves as the areas they enclose."""
    ring = np.isin(shapely.get_type_id(shapes), _CURVES) & shapely.is_closed(shapes)
    ring &= shapely.get_num_points(shapes) >= _LEAST_CORNERS
    for i in np.flatnonzero(ring):
        shapes[i] = shapely.Polygon(shapes[i].coords)
    whole = np.isfinite(shapely.bounds(shapes)).all(axis=1)
    area = np.isin(shapely.get_type_id(shapes), (_KINDS["Polygon"], _AREAS))
    findings: list[Finding] = []
    for i in np.flatnonzero(area & whole & ~shapely.is_valid(shapes)):
        parts = shapely.get_parts(shapely.make_valid(shapes[i]))
        parts = parts[np.isin(shapely.get_type_id(parts), (_KINDS["Polygon"], _AREAS))]
        if len(parts):
            shapes[i] = shapely.union_all(parts)
            findings.append(
                Finding(
                    "warning",
                    source,
                    place(int(i)),
                    "geometry",
                    got="an outline that crosses itself",
                    expected="an area",
                    remedy="Correct the outline; the areas it encloses are taken",
                )
            )
    return shapes, findings


def stated_crs(
    crs: pyproj.CRS | None, said: str, *, source: str, table: str
) -> tuple[pyproj.CRS | None, list[Finding]]:
    """The CRS of a layer: what its owner `said` in the settings, else the file's own.

    None, with a finding, where neither says where on the earth the coordinates are.
    """
    if said:
        return pyproj.CRS(said), []
    if crs is not None and places(crs):
        return crs, []
    got = "no coordinate reference system" if crs is None else f'only the grid "{crs.name}"'
    finding = Finding(
        "error",
        source,
        got=got,
        expected="one that says where on the earth the layer lies",
        remedy=f'Name it under [layers.{table}] in {FILE}, as in crs = "EPSG:27700", or set it in '
        "your GIS and export again (a shapefile needs its .prj file)",
    )
    return None, [finding]


def metric_crs(shapes: Geometries, crs: pyproj.CRS) -> pyproj.CRS:
    """`crs` itself if it measures true metres where the shapes lie, else their UTM zone; near the
    poles, where no zone is laid, distances from their middle.

    True is a scale within 1 %: web maps are drawn 'in metres' that are far too long.
    """
    if crs.is_projected and all(a.unit_conversion_factor == 1.0 for a in crs.axis_info[:2]):
        west, south, east, north = shapely.total_bounds(shapes)
        to_wgs84 = pyproj.Transformer.from_crs(crs, _WGS84, always_xy=True)
        longitude, latitude = to_wgs84.transform((west + east) / 2, (south + north) / 2)
        factors = pyproj.Proj(crs).get_factors(longitude, latitude)
        scales = (factors.meridional_scale, factors.parallel_scale)
        if all(abs(s - 1) <= _SCALE_ERROR for s in scales):
            return crs
    placed = gpd.GeoSeries(shapes, crs=crs).dropna()
    try:
        return _utm_zone(*placed.total_bounds, crs)
    except RuntimeError:
        west, south, east, north = placed.to_crs(_WGS84).total_bounds
        middle = f"+lat_0={(south + north) / 2:.3f} +lon_0={(west + east) / 2:.3f}"
        return pyproj.CRS(f"+proj=aeqd {middle} +datum=WGS84 +units=m +type=crs")


@lru_cache(maxsize=16)
def _utm_zone(west: float, south: float, east: float, north: float, crs: pyproj.CRS) -> pyproj.CRS:
    # The zone goes by the bounds alone; to look it up among all systems takes long.
    corners = gpd.GeoSeries(shapely.points([(west, south), (east, north)]), crs=crs)
    return pyproj.CRS(corners.estimate_utm_crs())


def to_crs(shapes: Geometries, crs: pyproj.CRS, metric: pyproj.CRS) -> Geometries:
    """The shapes in the metric CRS."""
    series = gpd.GeoSeries(shapes, crs=crs)
    return np.asarray(series.to_crs(metric).to_numpy(), dtype=object)


def _finite(shapes: Geometries) -> np.ndarray[Any, np.dtype[np.bool_]]:
    points, owner = shapely.get_coordinates(shapes, return_index=True)
    bad = ~np.isfinite(points).all(axis=1)
    whole = np.ones(len(shapes), dtype=bool)
    whole[owner[bad]] = False
    return whole


def _outside(shapes: Geometries, crs: pyproj.CRS) -> np.ndarray[Any, np.dtype[np.bool_]]:
    """Shapes with a corner off the part of the earth the CRS is made for."""
    away = np.zeros(len(shapes), dtype=bool)
    if len(shapes) == 0:
        return away
    points, owner = shapely.get_coordinates(shapes, return_index=True)
    if crs.is_geographic:
        longitude, latitude = points[:, 0], points[:, 1]
    else:
        to_wgs84 = pyproj.Transformer.from_crs(crs, _WGS84, always_xy=True)
        longitude, latitude = to_wgs84.transform(points[:, 0], points[:, 1])
    bad = ~(np.isfinite(longitude) & np.isfinite(latitude))
    bad |= (np.abs(longitude) > 180.0) | (np.abs(latitude) > 90.0)
    reach = crs.area_of_use
    if reach is not None:
        slack = 0.0 if crs.is_geographic else _MARGIN_DEGREES
        bad |= (latitude < reach.south - slack) | (latitude > reach.north + slack)
        if reach.west <= reach.east:
            bad |= (longitude < reach.west - slack) | (longitude > reach.east + slack)
    away[owner[bad]] = True
    return away


def _defect(source: str, place: str, got: str, expected: str) -> Finding:
    return Finding(
        "error",
        source,
        place,
        "geometry",
        got=got,
        expected=expected,
        remedy="Correct the geometry, or remove the feature",
    )
