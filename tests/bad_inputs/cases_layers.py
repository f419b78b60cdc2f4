"""Layers and records that are broken, foreign, misplaced or contradict each other."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import geopandas as gpd
import pandas as pd
import pyogrio
from shapely.geometry import Point

from tests.bad_inputs.breakers import (
    Breaker,
    Case,
    added,
    both,
    cut,
    drawn,
    every_point,
    features,
    gone,
    raw,
    replaced,
    text,
    value,
)

_BOW = [[[7.0011, 46.9995], [7.0029, 47.0015], [7.0029, 46.9995], [7.0011, 47.0015]]]
_OVER = [[[7.0021, 46.9995], [7.0045, 46.9995], [7.0045, 47.0015], [7.0021, 47.0015]]]
_LONG = "P" * 5000


def _as_file(layer: str, suffix: str, then: Callable[[Path], object]) -> Breaker:
    """A layer in another format, and what is done to that file."""

    def write(folder: Path) -> None:
        found = gpd.read_file(folder / f"{layer}.geojson")
        (folder / f"{layer}.geojson").unlink()
        found.columns = [c[:10] if suffix == "shp" else c for c in found.columns]
        found.to_file(folder / f"{layer}.{suffix}")
        then(folder / f"{layer}.{suffix}")

    return write


def _half(path: Path) -> None:
    said = path.read_bytes()
    path.write_bytes(said[: len(said) // 2])


def _garbled(path: Path) -> None:
    said = bytearray(path.read_bytes())
    said[5_000:60_000] = b"\xff" * 55_000
    path.write_bytes(bytes(said))


def _emptied(path: Path) -> None:
    found = gpd.read_file(path).iloc[:0]
    path.unlink()
    found.to_file(path, layer=path.stem)


def _without_shapes(path: Path) -> None:
    found = pd.DataFrame(gpd.read_file(path).drop(columns="geometry"))
    path.unlink()
    pyogrio.write_dataframe(found, path, layer=path.stem)


def _not_a_number(path: Path) -> None:
    found = gpd.read_file(path)
    found.loc[1, "geometry"] = Point(float("nan"), 47.0)
    found.to_file(path, layer=path.stem)


def _ring(places: list[list[list[float]]]) -> list[list[list[float]]]:
    return [[*places[0], places[0][0]]]


CASES: tuple[Case, ...] = (
    Case(
        "a GeoPackage cut in half",
        _as_file("pipes", "gpkg", _half),
        "pipes.gpkg",
        (
            "pipes.gpkg: got a file that cannot be read as a vector layer, expected a vector "
            "layer such as GeoPackage, GeoJSON or shapefile. Export it again from your GIS.",
        ),
    ),
    Case(
        "a GeoPackage with a damaged middle",
        _as_file("pipes", "gpkg", _garbled),
        "pipes.gpkg",
        (
            "pipes.gpkg: got a file that cannot be read as a vector layer, expected a vector "
            "layer such as GeoPackage, GeoJSON or shapefile. Export it again from your GIS.",
        ),
    ),
    Case(
        "a GeoPackage that is a text",
        both(gone("pipes.geojson"), text("pipes.gpkg", "a list")),
        "pipes.gpkg",
        (
            "pipes.gpkg: got a file that cannot be read as a vector layer, expected a vector "
            "layer such as GeoPackage, GeoJSON or shapefile. Export it again from your GIS.",
        ),
    ),
    Case(
        "a GeoPackage whose layer is empty",
        _as_file("pipes", "gpkg", _emptied),
        "pipes.gpkg",
        (
            "pipes.gpkg: got no features, expected at least one: mains, one line a stretch. "
            "Export the layer again with its features.",
        ),
    ),
    Case(
        "a GeoPackage with a table alone",
        _as_file("pipes", "gpkg", _without_shapes),
        "pipes.gpkg",
        (
            "pipes.gpkg: got a table without geometry, expected a vector layer such as "
            "GeoPackage, GeoJSON or shapefile. Export it again from your GIS.",
        ),
    ),
    Case(
        "GeoJSON cut in half",
        cut("pipes.geojson", 0.5),
        "pipes.geojson",
        (
            "pipes.geojson: got a file that cannot be read as a vector layer, expected a "
            "vector layer such as GeoPackage, GeoJSON or shapefile. Export it again from "
            "your GIS.",
        ),
    ),
    Case(
        "GeoJSON without its end",
        cut("meters.geojson", 0.95),
        "meters.geojson",
        (
            "meters.geojson: got a file that cannot be read as a vector layer, expected a "
            "vector layer such as GeoPackage, GeoJSON or shapefile. Export it again from "
            "your GIS.",
        ),
    ),
    Case(
        "GeoJSON of no bytes",
        raw("zones.geojson", b""),
        "zones.geojson",
        (
            "zones.geojson: got a file that cannot be read as a vector layer, expected a "
            "vector layer such as GeoPackage, GeoJSON or shapefile. Export it again from "
            "your GIS.",
        ),
    ),
    Case(
        "a page of a portal",
        text("connections.geojson", "<html>Please log in</html>"),
        "connections.geojson",
        (
            "connections.geojson: got a file that cannot be read as a vector layer, expected "
            "a vector layer such as GeoPackage, GeoJSON or shapefile. Export it again from "
            "your GIS.",
        ),
    ),
    Case(
        "features that are none",
        text("sources.geojson", '{"type":"FeatureCollection","features":null}'),
        "sources.geojson",
        (
            "sources.geojson: got a file that cannot be read as a vector layer, expected a "
            "vector layer such as GeoPackage, GeoJSON or shapefile. Export it again from "
            "your GIS.",
        ),
    ),
    Case(
        "a number beyond all",
        replaced("pipes.geojson", '"diameter_mm": 125', '"diameter_mm": 1e400'),
        "pipes.geojson",
        (
            "pipes.geojson: got a file that cannot be read as a vector layer, expected a "
            "vector layer such as GeoPackage, GeoJSON or shapefile. Export it again from "
            "your GIS.",
        ),
    ),
    Case(
        "a shapefile without its table",
        _as_file("pipes", "shp", lambda path: path.with_suffix(".dbf").unlink()),
        "pipes.shp",
        (
            "pipes.shp: got a shapefile without its .dbf file, expected a vector layer such "
            "as GeoPackage, GeoJSON or shapefile. Export it again from your GIS.",
        ),
    ),
    Case(
        "a shapefile without its index",
        _as_file("pipes", "shp", lambda path: path.with_suffix(".shx").unlink()),
        "pipes.shp",
        (
            "pipes.shp: got a shapefile without its .shx file, expected a vector layer such "
            "as GeoPackage, GeoJSON or shapefile. Export it again from your GIS.",
        ),
    ),
    Case(
        "a shapefile of side files only",
        _as_file("pipes", "shp", lambda path: path.unlink()),
        "pipes",
        (
            "pipes: got no file, expected pipes.gpkg, pipes.geojson, pipes.shp, or a layer "
            "pipes in network.gpkg. Put it in the folder, or name yours under [layers.pipes] "
            "in district.toml.",
        ),
    ),
    Case(
        "a layer that is a folder",
        both(gone("pipes.geojson"), lambda f: (f / "pipes.geojson").mkdir()),
        "pipes.geojson",
        ("pipes.geojson: got a folder, expected a file. Put the file itself there, or remove it.",),
    ),
    Case(
        "a layer that links to itself",
        both(gone("zones.geojson"), lambda f: (f / "zones.geojson").symlink_to("zones.geojson")),
        "zones.geojson",
        (
            "zones.geojson: got a link that leads to no file, expected a file. Put the file "
            "itself there, or remove it.",
        ),
    ),
    Case(
        "no meters in the layer",
        text("meters.geojson", '{"type":"FeatureCollection","features":[]}'),
        "meters.geojson",
        (
            "meters.geojson: got no features, expected at least one: flow meters: on mains "
            "between zones, at buildings, at customers. Export the layer again with its "
            "features.",
        ),
    ),
    Case(
        "a zone drawn as a line",
        drawn("zones", 0, "LineString", [[7.0, 47.0], [7.002, 47.0]]),
        "zones.geojson",
        (
            "zones.geojson, zone A, column geometry: got a line, expected an area. Correct "
            "the geometry, or remove the feature.",
        ),
    ),
    Case(
        "a connection drawn as an area",
        drawn("connections", 1, "Polygon", _ring(_BOW)),
        "connections.geojson",
        (
            "connections.geojson, connection C2, column geometry: got an area, expected a "
            "point. Correct the geometry, or remove the feature.",
        ),
    ),
    Case(
        "shapes of two kinds in one feature",
        features(
            "pipes",
            lambda found: found[1].update(
                geometry={
                    "type": "GeometryCollection",
                    "geometries": [found[0]["geometry"], {"type": "Point", "coordinates": [7, 47]}],
                }
            ),
        ),
        "pipes.geojson",
        (
            "pipes.geojson, pipe P2, column geometry: got 2 shapes in one feature, expected "
            "a line. Correct the geometry, or remove the feature.",
        ),
    ),
    Case(
        "a feature without columns",
        features("pipes", lambda found: found[1].update(properties=None)),
        "pipes.geojson",
        (
            "pipes.geojson, feature 2, column pipe_id: got nothing, expected text. Correct "
            "the value.",
        ),
    ),
    Case(
        "a value that holds values",
        value("pipes", 1, "diameter_mm", {"value": 100}),
        "pipes.geojson",
        (
            'pipes.geojson, pipe P2, column diameter_mm: got "{ "value": 100 }", expected a '
            "number in mm from 10 to 3000. Correct the value or leave it empty to use the "
            "default.",
        ),
    ),
    Case(
        "a year given as a date and more",
        value("pipes", 1, "installed_year", "before the war"),
        "pipes.geojson",
        (
            'pipes.geojson, pipe P2, column installed_year: got "before the war", expected a '
            "whole number from 1800 to 2100. Correct the value or leave it empty to use the "
            "default.",
        ),
    ),
    Case(
        "a meter with two features",
        value("meters", 1, "meter_id", "MA"),
        "meters.geojson",
        (
            "meters.geojson, meter MA, column meter_id: got MA a second time, expected each "
            "only once. Give each its own id, or remove the copy.",
        ),
    ),
    Case(
        "an id of blanks",
        value("pipes", 1, "pipe_id", "   "),
        "pipes.geojson",
        (
            "pipes.geojson, feature 2, column pipe_id: got nothing, expected text. Correct "
            "the value.",
        ),
    ),
    Case(
        "an id that would clear the screen",
        value("pipes", 1, "pipe_id", "P\x1b[2J"),
        "pipes.geojson",
        (
            "pipes.geojson, pipe P�[2J, column pipe_id: got a sign that cannot be shown, "
            "expected ids of at most 200 signs that can be read and typed. Correct the ids, "
            "and in readings and records that name them.",
        ),
        errors=False,
    ),
    Case(
        "an id on two lines",
        value("valves", 0, "valve_id", "V\n1"),
        "valves.geojson",
        (
            "valves.geojson, valve V�1, column valve_id: got a sign that cannot be shown, "
            "expected ids of at most 200 signs that can be read and typed. Correct the ids, "
            "and in readings and records that name them.",
        ),
        errors=False,
    ),
    Case(
        "an id without end",
        value("pipes", 1, "pipe_id", _LONG),
        "pipes.geojson",
        (
            "pipes.geojson, pipe PPPPPPPPPPPPPPPPPPPPPPPPPPPPPPPPPPPPPPPP, column pipe_id: "
            "got a very long text, expected ids of at most 200 signs that can be read and "
            "typed. Correct the ids, and in readings and records that name them.",
        ),
        errors=False,
    ),
    Case(
        "an id without end and a bad value",
        both(value("pipes", 1, "pipe_id", _LONG), value("pipes", 1, "diameter_mm", "x")),
        "pipes.geojson",
        (
            "pipes.geojson, pipe "
            f"{_LONG[:152]}..., "
            'column diameter_mm: got "x", expected a number in mm from 10 to 3000. Correct '
            "the value or leave it empty to use the default.",
            "pipes.geojson, pipe PPPPPPPPPPPPPPPPPPPPPPPPPPPPPPPPPPPPPPPP, column pipe_id: "
            "got a very long text, expected ids of at most 200 signs that can be read and "
            "typed. Correct the ids, and in readings and records that name them.",
        ),
    ),
    Case(
        "an id of a picture and a bad value",
        both(value("pipes", 1, "pipe_id", "🚰"), value("pipes", 1, "diameter_mm", "x")),
        "pipes.geojson",
        (
            'pipes.geojson, pipe 🚰, column diameter_mm: got "x", expected a number in mm '
            "from 10 to 3000. Correct the value or leave it empty to use the default.",
        ),
    ),
    Case(
        "latitude and longitude of meters swapped",
        every_point("meters", lambda x, y: [y, x]),
        "meters.geojson",
        (
            "meters.geojson, meter MA, column geometry: got a point 6\xa0300 km from the "
            "nearest pipe, P5, expected a point within 0.5 m of a pipe in use of "
            "pipes.geojson. Correct the coordinate reference system of the file, or the "
            "order of its coordinates.",
            "meters.geojson, meter MB, column geometry: got a point 6\xa0300 km from the "
            "nearest pipe, P5, expected a point within 0.5 m of a pipe in use of "
            "pipes.geojson. Correct the coordinate reference system of the file, or the "
            "order of its coordinates.",
        ),
    ),
    Case(
        "latitude and longitude of sources swapped",
        every_point("sources", lambda x, y: [y, x]),
        "sources.geojson",
        (
            "sources.geojson, source S1, column geometry: got a point farther than 60 m from "
            "every pipe in use, expected a point on the pipe it feeds. Move it onto its "
            "pipe, or add the missing main.",
        ),
    ),
    Case(
        "a meter where the equator begins",
        drawn("meters", 1, "Point", [0, 0]),
        "meters.geojson",
        (
            "meters.geojson, meter MB, column geometry: got a point 5\xa0300 km from the "
            "nearest pipe, P1, expected a point within 0.5 m of a pipe in use of "
            "pipes.geojson. Correct the coordinate reference system of the file, or the "
            "order of its coordinates.",
        ),
    ),
    Case(
        "a connection where the equator begins",
        drawn("connections", 1, "Point", [0, 0]),
        "connections.geojson",
        (
            "connections.geojson, connection C2, column geometry: got 1 farther than 60 m "
            "from every pipe in use, expected each within reach of the main that serves it. "
            "Correct the points, add the missing main, or raise locate.connection_snap_m in "
            "district.toml.",
        ),
        errors=False,
    ),
    Case(
        "a pipe to where the equator begins",
        drawn("pipes", 5, "LineString", [[7.004, 47.0], [0, 0]]),
        "pipes.geojson",
        (
            "pipes.geojson, pipe P6, column geometry: got a line of 5\xa0300 km, expected "
            "less than 50 km from one end of a pipe to the other. Correct the corner that "
            "lies astray; figures by length are wrong until then.",
            "pipes.geojson, pipe P6, column geometry: got a pipe that crosses from zone B to "
            "outside every zone with neither meter nor shut valve, expected a zone meter or "
            "a shut valve where a pipe leaves a zone. Add the meter or the shut valve, or "
            "correct the zone's outline; the balance follows the pipe.",
        ),
        errors=False,
    ),
    Case(
        "a coordinate that is no number",
        _as_file("meters", "gpkg", _not_a_number),
        "meters.gpkg",
        (
            "meters.gpkg, meter MB, column geometry: got an infinite or missing coordinate, "
            "expected numbers only. Correct the geometry, or remove the feature.",
        ),
    ),
    Case(
        "a zone that crosses itself",
        drawn("zones", 0, "Polygon", _ring(_BOW)),
        "zones.geojson",
        (
            "zones.geojson, zone A, column geometry: got an outline that crosses itself, "
            "expected an area. Correct the outline; the areas it encloses are taken.",
        ),
        errors=False,
    ),
    Case(
        "zones that overlap",
        drawn("zones", 1, "Polygon", _ring(_OVER)),
        "zones.geojson",
        (
            "zones.geojson, zones A and B, column geometry: got outlines that overlap by 44 "
            "% of the smaller, expected outlines side by side, or one wholly inside the "
            "other. Correct the outlines; until then pipes in both count for the smaller.",
        ),
        errors=False,
    ),
    Case(
        "two zones of one outline",
        features("zones", lambda found: found[1].update(geometry=found[0]["geometry"])),
        "zones.geojson",
        (
            "zones.geojson, zones A and B, column geometry: got the same outline twice, "
            "expected outlines side by side, or one wholly inside the other. Correct the "
            "outlines; until then pipes in both count for the smaller.",
            "zones.geojson, zone B, column geometry: got an outline with no pipe in use "
            "inside, expected an outline around the zone's pipes. Correct the outline, or "
            "remove the zone.",
        ),
    ),
    Case(
        "a sensor called like a meter",
        value("sensors", 0, "sensor_id", "MA"),
        "sensors.geojson",
        (
            "sensors.geojson, sensor MA, column sensor_id: got an id that meter MA of "
            "meters.geojson has too, expected ids of their own, as readings are told apart "
            "by them. Give the sensor another id there and in its readings.",
        ),
    ),
    Case(
        "a work at a meter called like a valve",
        both(value("valves", 0, "valve_id", "MA"), replaced("works.csv", ",A,", ",MA,")),
        "works.csv",
        (
            'works.csv, column place_id: got "MA", which is a meter and a valve, expected an '
            "id that only one layer has. Give one of the two another id, so that the work is "
            "laid to the right one.",
        ),
        errors=False,
    ),
    Case(
        "a pipe of one place",
        drawn("pipes", 5, "LineString", [[7.004, 47.0], [7.004, 47.0]]),
        "pipes.geojson",
        (
            "pipes.geojson, pipe P6, column geometry: got 1 line without length, expected "
            "lines as long as the pipe. Draw them, or remove them; until then they are left "
            "out.",
        ),
        errors=False,
    ),
    Case(
        "a pipe drawn twice",
        added("pipes", "LineString", [[7.004, 47.0], [7.004, 47.001]], pipe_id="P7"),
        "pipes.geojson",
        (
            "pipes.geojson, pipe P7, column geometry: got 1 copy of another pipe, P7 with "
            "P6: the same ends and the same line, expected each pipe once. Remove the "
            "copies, which are left out; where two mains really lie side by side, draw them "
            "farther apart than 0.5 m.",
        ),
        errors=False,
    ),
    Case(
        "a register of forty digits",
        value("meters", 2, "register_digits", 40),
        "meters.geojson",
        (
            "meters.geojson, meter CM1, column register_digits: got 40, expected a whole "
            "number from 3 to 12. Correct the value or leave it empty to use the default.",
        ),
    ),
    Case(
        "a meter that errs by twice its flow",
        value("meters", 0, "error_percent", 200),
        "meters.geojson",
        (
            "meters.geojson, meter MA, column error_percent: got 200, expected a number in % "
            "from 0 to 50. Correct the value or leave it empty to use the default.",
        ),
    ),
    Case(
        "a level that is a word",
        value("sources", 0, "head_m", "high"),
        "sources.geojson",
        (
            'sources.geojson, source S1, column head_m: got "high", expected a number in m '
            "from -450 to 6000. Correct the value or leave it empty to use the default.",
        ),
    ),
    Case(
        "a level above all mountains",
        value("connections", 0, "elevation_m", 43100),
        "connections.geojson",
        (
            "connections.geojson, connection C1, column elevation_m: got 43100, expected a "
            "number in m from -450 to 6000. Correct the value or leave it empty to use the "
            "default.",
        ),
    ),
    Case(
        "pressure in furlongs",
        value("sensors", 0, "reading_unit", "furlong"),
        "sensors.geojson",
        (
            'sensors.geojson, sensor PL1, column reading_unit: got "furlong", expected one '
            "of m, bar, kPa, psi, ft, as it is a pressure sensor. Correct the unit, or the kind.",
        ),
    ),
    Case(
        "a zone fed through itself",
        value("zones", 0, "parent_id", "A"),
        "zones.geojson",
        (
            "zones.geojson, zone A, column parent_id: got a ring: A is fed through A, "
            "expected a chain of zones that ends at one without a parent. Leave parent_id "
            "empty for the zone that the water reaches first.",
        ),
    ),
    Case(
        "works of no bytes",
        raw("works.csv", b""),
        "works.csv",
        (
            "works.csv: got an empty file, expected a table of what was done on the network, "
            "so that it is not taken for a leak. Save it again as CSV with a heading, or "
            "remove it.",
        ),
    ),
    Case(
        "works that are no workbook",
        both(gone("works.csv"), text("works.xlsx", "start,kind")),
        "works.xlsx",
        (
            "works.xlsx: got a file that cannot be read as xlsx, expected a table of what "
            "was done on the network, so that it is not taken for a leak. Save it again as "
            "CSV with a heading, or remove it.",
        ),
    ),
    Case(
        "works that are not text",
        raw("works.csv", b"start,kind\x00\x00,place_id\n"),
        "works.csv",
        (
            "works.csv: got a file that is not text, expected a table of what was done on "
            "the network, so that it is not taken for a leak. Save it again as CSV with a "
            "heading, or remove it.",
        ),
    ),
    Case(
        "works in a folder of the name",
        both(gone("works.csv"), lambda f: (f / "works.csv").mkdir()),
        "works.csv",
        ("works.csv: got a folder, expected a file. Put the file itself there, or remove it.",),
    ),
    Case(
        "works without a kind",
        replaced("works.csv", "kind", "what"),
        "works.csv",
        (
            "works.csv, column kind: got no such column, expected one of repair, flushing, "
            "fire_use, meter_change, valve_operation, planned_use, empty: what it was. Add "
            "the column, or name yours under [records.works.columns] in district.toml.",
        ),
    ),
    Case(
        "a work on 31 February",
        replaced("works.csv", "2025-03-11 10:00", "2025-02-31 10:00"),
        "works.csv",
        (
            'works.csv, row 2, column start: got "2025-02-31 10:00", expected a time. '
            "Correct the value.",
        ),
    ),
    Case(
        "a work that ends later",
        replaced("works.csv", "2025-03-11 11:00", "later"),
        "works.csv",
        (
            'works.csv, row 2, column end: got "later", expected a time. Correct the value '
            "or leave it empty to use the default.",
        ),
    ),
    Case(
        "three breaks, each wrong in its own way",
        text(
            "breaks.csv",
            "date,pipe_id,kind\nyesterday,P3,main\n2019-02-03,,main\n2019-02-04,P3,joint\n",
        ),
        "breaks.csv",
        (
            'breaks.csv, row 4, column kind: got "joint", expected one of main, service. '
            "Correct it, or say under [records.breaks.values.kind] in district.toml what it "
            'means, as in "joint" = "main".',
            'breaks.csv, row 2, column date: got "yesterday", expected a date as YYYY-MM-DD. '
            "Correct the value.",
            "breaks.csv, row 3, column pipe_id: got nothing, expected text, or longitude_deg and "
            "latitude_deg instead. Fill it in where it is known; until then this break counts for "
            "no pipe.",
        ),
    ),
    Case(
        "a break in April or March",
        text("breaks.csv", "date,pipe_id,kind\n03/04/2019,P3,main\n"),
        "breaks.csv",
        (
            'breaks.csv, row 2, column date: got "03/04/2019", expected a date as '
            "YYYY-MM-DD. Write the year first: which is the day and which the month cannot be "
            "told here.",
        ),
    ),
)
