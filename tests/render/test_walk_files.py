"""Tests of `district.render.walk_files`: open formats, read again by a general library."""

from __future__ import annotations

import json
from datetime import date
from itertools import pairwise
from pathlib import Path
from typing import Any
from xml.etree import ElementTree

import geopandas as gpd
import pyogrio
import pytest
from shapely.geometry import LineString, Point

from district.errors import OutputError
from district.render.walk_files import write_walk
from district.schema.columns import Table
from district.schema.survey_tables import (
    LISTENING_POINTS,
    SET_UPS,
    SURVEY_CAUTION,
    SURVEY_LEGS,
    SURVEY_PATHS,
)

CRS = 32630
GPX = "{http://www.topografix.com/GPX/1/1}"
AT = 500_000.0, 6_000_000.0


def line(*xy: tuple[float, float]) -> LineString:
    return LineString([(AT[0] + x, AT[1] + y) for x, y in xy])


def rows(table: Table, *given: dict[str, Any]) -> gpd.GeoDataFrame:
    frame = gpd.GeoDataFrame(list(given), columns=list(table.names()), crs=CRS)
    return frame.set_geometry("geometry")


LEGS = rows(
    SURVEY_LEGS,
    {"leg": 1, "shift": 1, "stretch_id": "P1", "from_m": 0.0, "to_m": 9.0,
     "geometry": line((0, 0), (9, 0))},
    {"leg": 2, "shift": 1, "stretch_id": "P2", "from_m": 9.0, "to_m": 0.0,
     "geometry": line((9, 9), (0, 9))},
    {"leg": 3, "shift": 2, "stretch_id": "Ü & <3>", "geometry": line((0, 20), (9, 20))},
)  # fmt: skip
PATHS = rows(
    SURVEY_PATHS,
    {"shift": 1, "leg": 2, "by": "pipes", "length_m": 9.0, "geometry": line((9, 0), (9, 9))},
    {"shift": 1, "leg": None, "by": "straight", "length_m": 9.0, "geometry": line((0, 9), (0, 0))},
)
POINTS = rows(
    LISTENING_POINTS,
    {"rank": 1, "shift": 1, "leg": 1, "kind": "valve", "fitting_id": "V<1>", "stretch_id": "P1",
     "along_m": 3.0, "material": "pvc", "geometry": Point(AT[0] + 3, AT[1])},
    {"rank": 2, "shift": 1, "leg": 2, "kind": "ground", "fitting_id": "", "stretch_id": "P2",
     "along_m": 6.0, "material": "unknown", "geometry": Point(AT[0] + 6, AT[1] + 9)},
)  # fmt: skip
SET = rows(
    SET_UPS,
    {"set_up": 1, "leg": 1, "stretch_id": "P1", "first_id": "V<1>", "other_id": "V2",
     "delay_ms": None, "too_far": True, "geometry": line((0, 0), (9, 0))},
)  # fmt: skip


def written(folder: Path) -> dict[str, Path]:
    paths = write_walk(
        legs=LEGS, paths=PATHS, points=POINTS, set_ups=SET, folder=folder, last=date(2025, 6, 30)
    )
    return {p.name: p for p in paths}


def test_each_table_is_a_layer_as_declared(tmp_path: Path) -> None:
    path = written(tmp_path)["survey.gpkg"]
    tables = (SURVEY_LEGS, SURVEY_PATHS, LISTENING_POINTS, SET_UPS)
    assert [n for n, _ in pyogrio.list_layers(path)] == [t.name for t in tables]
    for table, count in zip(tables, (3, 2, 2, 1), strict=True):
        layer = gpd.read_file(path, layer=table.name)
        assert len(layer) == count
        assert set(layer.columns) == set(table.names())
        assert layer.crs.to_epsg() == CRS


def test_one_collection_in_degrees_with_the_caution(tmp_path: Path) -> None:
    path = written(tmp_path)["survey.geojson"]
    whole = json.loads(path.read_text(encoding="utf-8"))
    assert whole["caution"] == SURVEY_CAUTION
    assert len(whole["features"]) == 8
    tables = [f["properties"]["table"] for f in whole["features"]]
    assert tables == ["survey_legs"] * 3 + ["survey_paths"] * 2 + ["listening_points"] * 2 + [
        "set_ups"
    ]
    # RFC 7946, section 3.1.1: longitude first, in degrees.
    longitude, latitude = whole["features"][0]["geometry"]["coordinates"][0]
    expected = gpd.GeoSeries([Point(AT)], crs=CRS).to_crs(4326).iloc[0]
    assert (longitude, latitude) == pytest.approx((expected.x, expected.y), abs=1e-7)
    assert len(gpd.read_file(path)) == 8


def test_a_track_for_each_shift_in_the_order_walked(tmp_path: Path) -> None:
    """GPX 1.1 schema (topografix.com, from memory): trk holds name, desc and trkseg of trkpt."""
    path = written(tmp_path)["survey_track.gpx"]
    tracks = ElementTree.parse(path).getroot().findall(f"{GPX}trk")
    assert [t.findtext(f"{GPX}name") for t in tracks] == ["Shift 1", "Shift 2"]
    segments = tracks[0].findall(f"{GPX}trkseg")
    assert len(segments) == 4
    ends = [[(p.get("lon"), p.get("lat")) for p in s.findall(f"{GPX}trkpt")] for s in segments]
    for one, following in pairwise(ends):
        assert one[-1] == following[0]
    assert "traffic" in str(tracks[0].findtext(f"{GPX}desc"))


def test_a_waypoint_for_each_listening_point(tmp_path: Path) -> None:
    path = written(tmp_path)["survey_points.gpx"]
    points = ElementTree.parse(path).getroot().findall(f"{GPX}wpt")
    assert [p.findtext(f"{GPX}name") for p in points] == ["1 V<1>", "2 ground"]
    assert points[0].findtext(f"{GPX}desc") == "valve, 3 m along P1, PVC"


def test_the_same_bytes_again_and_nothing_to_walk(tmp_path: Path) -> None:
    one, other = written(tmp_path / "a"), written(tmp_path / "b")
    for name in one:
        assert one[name].read_bytes() == other[name].read_bytes()
    none = {"legs": LEGS[:0], "paths": PATHS[:0], "points": POINTS[:0], "set_ups": SET[:0]}
    paths = write_walk(**none, folder=tmp_path / "c", last=None)
    assert json.loads(paths[1].read_text(encoding="utf-8"))["features"] == []


def test_a_place_that_cannot_be_written(tmp_path: Path) -> None:
    (tmp_path / "file").write_text("")
    with pytest.raises(OutputError):
        written(tmp_path / "file" / "below")
