"""The district on the ground: pipes with their hidden state, zone outlines, ground level."""

from __future__ import annotations

from dataclasses import dataclass

import geopandas as gpd
import networkx as nx
import numpy as np
import pandas as pd
import shapely
from numpy.typing import NDArray
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

SAMPLE_M = 6.0
REACH_M = 45.0
"""How far a zone's outline stands off its outermost pipes."""
_RENEWED = Laying(1, "polyethylene", (100, 125), 2006, 2022, 145)


@dataclass(frozen=True, eq=False)
class Layout:
    """Pipes and zones in one metric CRS.

    pipes
        index 0..n-1; the columns of `inputs.PIPES`, and hidden: zone_id (of a link, the zone it
        leaves), to_zone_id (of a link), part, start, end (node names), device, device_id.
    zones
        the columns of `inputs.ZONES`.
    reach
        index node name; zone_id, feed_share: how far from the zone's feed, 0 to 1 (0 for trunk).
    """

    pipes: gpd.GeoDataFrame
    zones: gpd.GeoDataFrame
    reach: pd.DataFrame


def lay_out(rng: np.random.Generator) -> Layout:
    """Draw the district's pipes, outlines and distances."""
    stretches = draw_streets(rng)
    origin = gpd.GeoSeries.from_xy([ORIGIN_LONGITUDE], [ORIGIN_LATITUDE], crs="EPSG:4326")
    corner = origin.to_crs(METRIC_CRS).iloc[0]
    shift = np.array([corner.x, corner.y])
    lines = [LineString(s.line + shift) for s in stretches]
    pipes = gpd.GeoDataFrame(
        {
            "pipe_id": [f"P{number:04d}" for number in range(1, len(lines) + 1)],
            "geometry": lines,
            **_laid(stretches, rng),
            "length_m": np.round([line.length for line in lines], 1),
            "status": "in_use",
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
    return Layout(pipes, _outlines(pipes), _reach(pipes))


def ground_m(geometry: gpd.GeoSeries) -> NDArray[np.float64]:
    """Ground level of points in the metric CRS: falling from the moor to the beck."""
    corner = gpd.GeoSeries.from_xy([ORIGIN_LONGITUDE], [ORIGIN_LATITUDE], crs="EPSG:4326").to_crs(
        METRIC_CRS
    )
    east = geometry.x.to_numpy() - corner.x.iloc[0]
    north = geometry.y.to_numpy() - corner.y.iloc[0]
    level = 202 - 0.011 * (east - 350) + 0.019 * (north - 100)
    waves = 2.0 * np.sin(east / 210) + 1.6 * np.cos(north / 165)
    return np.asarray(level + waves, dtype=float)


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
        if s.part in ("spine", "link"):
            bore = max(bore, 150)
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


def _reach(pipes: gpd.GeoDataFrame) -> pd.DataFrame:
    links = pipes[pipes["device"] == "inlet"]
    feeds = dict(zip(links["to_zone_id"], links["end"], strict=True))
    feeds["T"] = str(pipes.loc[pipes["part"] == "stub", "start"].iloc[0])
    rows = []
    for zone_id, feed in feeds.items():
        graph = nx.Graph()
        own = pipes[(pipes["zone_id"] == zone_id) & (pipes["part"] != "link")]
        for row in own.itertuples():
            graph.add_edge(row.start, row.end, weight=row.geometry.length)
        far = nx.single_source_dijkstra_path_length(graph, feed)
        most = max(far.values())
        rows += [(node, zone_id, distance / most) for node, distance in far.items()]
    frame = pd.DataFrame(rows, columns=["node", "zone_id", "feed_share"])
    return frame.set_index("node")
