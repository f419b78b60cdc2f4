"""The walk of a crew as open layers: GeoPackage, GeoJSON, and GPX for phones and receivers."""

from __future__ import annotations

import json
from collections.abc import Mapping
from datetime import date
from errno import EIO
from pathlib import Path
from typing import Any

import geopandas as gpd
import pandas as pd
import pyogrio
import shapely

from district.files import whole_file, write_text
from district.render.layers import typed, write_geopackage
from district.schema.survey_tables import (
    LISTENING_POINTS,
    SET_UPS,
    SURVEY_CAUTION,
    SURVEY_LEGS,
    SURVEY_PATHS,
)
from district.words import brief, missing, spelled

_DEGREES = "EPSG:4326"
_DIGITS = 7
"""Decimals of a degree: a centimetre, as RFC 7946 and GPX readers take it."""
_GPX_SHAPES = {"tracks": "MultiLineString", "waypoints": "Point"}


def write_walk(
    *,
    legs: gpd.GeoDataFrame,
    paths: gpd.GeoDataFrame,
    points: gpd.GeoDataFrame,
    set_ups: gpd.GeoDataFrame,
    folder: Path,
    last: date | None,
) -> tuple[Path, ...]:
    """Write survey.gpkg (a layer each, metric), survey.geojson (all features, degrees),
    survey_track.gpx (a track a shift) and survey_points.gpx (a waypoint a listening point) into
    `folder`; two files, as GDAL writes a GPX file in one go or not at all.

    Parameters: tables SURVEY_LEGS, SURVEY_PATHS, LISTENING_POINTS, SET_UPS. The same bytes from the
    same walk: `last`, the last day of the data, dates the GeoPackage. Raises `OutputError`.
    """
    layers = {
        table.name: typed(frame, table)
        for table, frame in (
            (SURVEY_LEGS, legs),
            (SURVEY_PATHS, paths),
            (LISTENING_POINTS, points),
            (SET_UPS, set_ups),
        )
    }
    tracks = _tracks(_in_degrees(layers["survey_legs"]), _in_degrees(layers["survey_paths"]))
    waypoints = _waypoints(_in_degrees(layers["listening_points"]))
    return (
        _geopackage(layers, folder / "survey.gpkg", last),
        _geojson(layers, folder / "survey.geojson"),
        _gpx(tracks, "tracks", folder / "survey_track.gpx"),
        _gpx(waypoints, "waypoints", folder / "survey_points.gpx"),
    )


def _geopackage(layers: Mapping[str, gpd.GeoDataFrame], path: Path, last: date | None) -> Path:
    tables = (SURVEY_LEGS, SURVEY_PATHS, LISTENING_POINTS, SET_UPS)
    shaped = [(table.name, table.geometry, layers[table.name]) for table in tables]
    return write_geopackage(shaped, path, last=last)


def _geojson(layers: Mapping[str, gpd.GeoDataFrame], path: Path) -> Path:
    """One collection of all layers, each feature with the table it is of (RFC 7946: degrees)."""
    features: list[Any] = []
    for name, layer in layers.items():
        lines = json.loads(_in_degrees(layer).to_json(drop_id=True, to_wgs84=False))["features"]
        for line in lines:
            line["properties"] = {"table": name, **line["properties"]}
        features += lines
    whole = {"type": "FeatureCollection", "caution": SURVEY_CAUTION, "features": features}
    write_text(path, json.dumps(whole, ensure_ascii=False, allow_nan=False) + "\n")
    return path


def _in_degrees(layer: gpd.GeoDataFrame) -> gpd.GeoDataFrame:
    placed = layer if layer.crs is not None else layer.set_crs(_DEGREES)
    moved = placed.to_crs(_DEGREES)
    rounded = shapely.transform(moved.geometry.to_numpy(), lambda xy: xy.round(_DIGITS))
    return moved.set_geometry(gpd.GeoSeries(rounded, index=moved.index, crs=_DEGREES))


def _gpx(layer: gpd.GeoDataFrame, name: str, path: Path) -> Path:
    with whole_file(path) as draft:
        try:
            pyogrio.write_dataframe(
                layer, draft, layer=name, driver="GPX", geometry_type=_GPX_SHAPES[name]
            )
        except (pyogrio.errors.DataSourceError, pyogrio.errors.FeatureError) as reason:
            raise OSError(EIO, "the disk is full or failed half-way") from reason
    return path


def _tracks(legs: gpd.GeoDataFrame, paths: gpd.GeoDataFrame) -> gpd.GeoDataFrame:
    """A track a shift: its legs and the ways between them, one segment each, as they are walked."""
    rows = []
    for shift, own in legs.groupby("shift", sort=True):
        ways = paths[paths["shift"] == shift]
        there = dict(zip(ways["leg"], ways.geometry, strict=True))
        parts = []
        for row in own.itertuples():
            parts += [there[row.leg]] if row.leg in there else []
            parts.append(row.geometry)
        parts += list(ways.geometry[ways["leg"].isna()])
        rows.append(
            {
                "name": f"Shift {shift}",
                "desc": f"{len(own)} pieces to search. {SURVEY_CAUTION}",
                "geometry": shapely.MultiLineString(parts),
            }
        )
    columns = ["name", "desc", "geometry"]
    return gpd.GeoDataFrame(pd.DataFrame(rows, columns=columns), geometry="geometry", crs=_DEGREES)


def _waypoints(points: gpd.GeoDataFrame) -> gpd.GeoDataFrame:
    named = [
        f"{row.rank} {'ground' if missing(row.fitting_id) else row.fitting_id}"
        for row in points.itertuples()
    ]
    said = [
        f"{spelled(row.kind)}, {brief(row.along_m)} m along {row.stretch_id}, "
        f"{spelled(row.material)}"
        for row in points.itertuples()
    ]
    return gpd.GeoDataFrame(
        {"name": pd.Series(named, dtype=object), "desc": pd.Series(said, dtype=object)},
        geometry=gpd.GeoSeries(list(points.geometry), crs=_DEGREES),
        crs=_DEGREES,
    )
