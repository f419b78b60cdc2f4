"""The district on the ground: pipes with their hidden state, zone outlines, ground level."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache

import geopandas as gpd
import numpy as np
import shapely
from numpy.typing import ArrayLike, NDArray
from shapely.geometry import LineString, MultiPoint, Polygon

from district.simulate.scenario import (
    METRIC_CRS,
    ORIGIN_LATITUDE,
    ORIGIN_LONGITUDE,
    ZONES,
    Laying,
    Zone,
)
from district.simulate.streets import Stretch, draw_streets
from district.simulate.surroundings import ground_kinds, street_names, surfaces

SAMPLE_M = 6.0
REACH_M = 45.0
"""How far a zone's outline stands off its outermost pipes."""
_RENEWED = Laying(1, "polyethylene", (80, 100), 2006, 2022, 145)


@dataclass(frozen=True, eq=False)
class Layout:
    """Pipes, zones and what lies above the pipes, in one metric CRS.

    pipes
        index 0..n-1; the columns of `inputs.PIPES`, and hidden: zone_id (of a link, the zone it
        leaves), to_zone_id (of a link), part, start, end (node names), device, device_id.
    zones, surfaces
        the columns of `inputs.ZONES` and `inputs.SURFACES`.
    """

    pipes: gpd.GeoDataFrame
    zones: gpd.GeoDataFrame
    surfaces: gpd.GeoDataFrame


def lay_out(rng: np.random.Generator) -> Layout:
    """Draw the district's pipes and outlines."""
    stretches = draw_streets(rng)
    lines = [LineString(s.line + np.array(_corner_m())) for s in stretches]
    names = street_names([s.street for s in stretches])
    pipes = gpd.GeoDataFrame(
        {
            "pipe_id": [f"P{number:04d}" for number in range(1, len(lines) + 1)],
            "geometry": lines,
            **_laid(stretches, rng),
            "length_m": np.round([line.length for line in lines], 1),
            "status": "in_use",
            "ground": _ground(lines),
            "street": [names[s.street] for s in stretches],
            "zone_id": [s.zone_id for s in stretches],
            "to_zone_id": [s.link.to_zone if s.link else "" for s in stretches],
            "part": [s.part for s in stretches],
            "start": [s.start for s in stretches],
            "end": [s.end for s in stretches],
            "device": [_device(s)[0] for s in stretches],
            "device_id": [_device(s)[1] for s in stretches],
        },
        geometry="geometry",
        crs=METRIC_CRS,
    )
    return Layout(pipes, _outlines(pipes), surfaces(pipes, _corner_m()))


def ground_m(geometry: gpd.GeoSeries) -> NDArray[np.float64]:
    """Ground level of points in the metric CRS: falling from the moor to the beck."""
    return ground_level_m(geometry.x.to_numpy(), geometry.y.to_numpy())


def ground_level_m(x_m: ArrayLike, y_m: ArrayLike) -> NDArray[np.float64]:
    """Ground level at places in the metric CRS."""
    corner_m = _corner_m()
    east, north = np.asarray(x_m) - corner_m[0], np.asarray(y_m) - corner_m[1]
    level = 202 - 0.011 * (east - 350) + 0.019 * (north - 100)
    waves = 2.0 * np.sin(east / 210) + 1.6 * np.cos(north / 165)
    return np.asarray(level + waves, dtype=float)


def _ground(lines: list[LineString]) -> list[str]:
    middle = shapely.get_coordinates(shapely.line_interpolate_point(lines, 0.5, normalized=True))
    return ground_kinds(ground_level_m(middle[:, 0], middle[:, 1]))


@cache
def _corner_m() -> tuple[float, float]:
    """The scenario's origin in the metric CRS."""
    origin = gpd.GeoSeries.from_xy([ORIGIN_LONGITUDE], [ORIGIN_LATITUDE], crs="EPSG:4326")
    corner = origin.to_crs(METRIC_CRS).iloc[0]
    return float(corner.x), float(corner.y)


def _device(stretch: Stretch) -> tuple[str, str]:
    if stretch.part == "stub":
        return "outlet", "ZM-T"
    return (stretch.link.device, stretch.link.device_id) if stretch.link else ("", "")


def _laid(stretches: list[Stretch], rng: np.random.Generator) -> dict[str, list[object]]:
    """Material, bore, year and roughness: a street was laid at once, here and there renewed."""
    zones: dict[str, Zone] = {z.zone_id: z for z in ZONES}
    streets: dict[str, tuple[Laying, int, int]] = {}
    rows: list[tuple[str, float, int, float]] = []
    for s in stretches:
        if s.street not in streets:
            layings = zones[s.zone_id].layings
            weights = np.array([laying.weight for laying in layings])
            chosen = layings[int(rng.choice(len(layings), p=weights / weights.sum()))]
            streets[s.street] = _draw(chosen, rng)
        laying, year, bore = streets[s.street]
        if s.part in ("street", "spine") and year < 1990 and rng.random() < 0.12:
            laying, year, bore = _draw(_RENEWED, rng)
        if s.link:
            bore = zones[s.link.to_zone].spine_mm
        elif s.part == "spine":
            bore = max(bore, zones[s.zone_id].spine_mm)
        rows.append((laying.material, float(bore), year, float(laying.roughness)))
    names = ("material", "diameter_mm", "installed_year", "roughness")
    return {name: list(values) for name, values in zip(names, zip(*rows, strict=True), strict=True)}


def _draw(laying: Laying, rng: np.random.Generator) -> tuple[Laying, int, int]:
    year = int(rng.integers(laying.first_year, laying.last_year + 1))
    return laying, year, int(rng.choice(laying.diameters_mm))


def _samples(pipes: gpd.GeoDataFrame) -> tuple[list[str], NDArray[np.float64]]:
    """Points along every pipe with their zone; about a device, evenly on both sides of it."""
    zones: list[str] = []
    points: list[tuple[float, float]] = []
    for row in pipes.itertuples():
        length = row.geometry.length
        if row.part in ("link", "stub"):
            half = np.arange(SAMPLE_M / 2, length / 2, SAMPLE_M)
            along = np.concatenate((length / 2 - half, length / 2 + half))
            first, last = ("", "T") if row.part == "stub" else (row.zone_id, row.to_zone_id)
            zones += [first] * len(half) + [last] * len(half)
        else:
            along = np.linspace(0, length, max(3, int(length / SAMPLE_M)))
            zones += [row.zone_id] * len(along)
        points += [(p.x, p.y) for p in shapely.line_interpolate_point(row.geometry, along)]
    return zones, np.array(points)


def _outlines(pipes: gpd.GeoDataFrame) -> gpd.GeoDataFrame:
    """Outlines that meet halfway between pipes of different zones, and cross links at devices."""
    zones, points = _samples(pipes)
    near = shapely.union_all(shapely.buffer(shapely.points(points), REACH_M, quad_segs=4))
    cells = np.array(
        shapely.get_parts(shapely.voronoi_polygons(MultiPoint(points), extend_to=near))
    )
    found, cell = shapely.STRtree(cells).query(shapely.points(points), predicate="intersects")
    owner = np.array(zones, dtype=object)[found]
    outlines = {}
    for zone in ZONES:
        whole = shapely.union_all(cells[np.unique(cell[owner == zone.zone_id])])
        parts = shapely.get_parts(whole.intersection(near))
        outlines[zone.zone_id] = max(parts, key=lambda part: part.area)
    for zone in ZONES:
        if zone.parent_id:
            outlines[zone.parent_id] = outlines[zone.parent_id].union(outlines[zone.zone_id])
    outlines = {z: Polygon(outline.exterior) for z, outline in outlines.items()}
    return gpd.GeoDataFrame(
        {
            "zone_id": [z.zone_id for z in ZONES],
            "name": [z.name for z in ZONES],
            "parent_id": [z.parent_id or None for z in ZONES],
            "geometry": [outlines[z.zone_id] for z in ZONES],
        },
        geometry="geometry",
        crs=pipes.crs,
    )
