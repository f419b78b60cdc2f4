"""Broken folders: what is broken, how, and the sentence its owner must read."""

from __future__ import annotations

import math
import shutil
from pathlib import Path
from typing import Any, NamedTuple

import geopandas as gpd
from shapely.geometry import LineString

from tests.bad_inputs.breakers import (
    Breaker,
    drawn,
    features,
    gone,
    more,
    replaced,
    text,
    value,
)

_ZONES = "readings/zones.csv"
_OTHERS = "readings/others.csv"


class Case(NamedTuple):
    """One way to break the small folder."""

    name: str
    breaker: Breaker
    sentence: str


def _no_geometry(features: list[dict[str, Any]]) -> None:
    features[2]["geometry"] = None


def _drop_column(layer: str, column: str) -> Breaker:
    def change(features: list[dict[str, Any]]) -> None:
        for one in features:
            one["properties"].pop(column, None)

    return features(layer, change)


def _all(layer: str, column: str, value: Any) -> Breaker:
    def change(features: list[dict[str, Any]]) -> None:
        for one in features:
            one["properties"][column] = value

    return features(layer, change)


def _no_crs(folder: Path) -> None:
    pipes = gpd.read_file(folder / "pipes.geojson")
    pipes.columns = [c[:10] for c in pipes.columns]
    pipes.to_file(folder / "pipes.shp")
    (folder / "pipes.prj").unlink()
    (folder / "pipes.geojson").unlink()


def _infinite(folder: Path) -> None:
    pipes = gpd.read_file(folder / "pipes.geojson").to_crs("EPSG:32632")
    pipes.loc[3, "geometry"] = LineString([(500000.0, 5200000.0), (math.inf, 5200000.0)])
    pipes.to_file(folder / "pipes.gpkg")
    (folder / "pipes.geojson").unlink()


def _two_layers(folder: Path) -> None:
    pipes = gpd.read_file(folder / "pipes.geojson")
    for layer in ("mains", "services"):
        pipes.to_file(folder / "pipes.gpkg", layer=layer)
    (folder / "pipes.geojson").unlink()


def _readings_gone(folder: Path) -> None:
    shutil.rmtree(folder / "readings")
    text("district.toml", "")(folder)


def _hours_lost(folder: Path) -> None:
    path = folder / "readings/zones.csv"
    rows = path.read_text().splitlines()
    lost = [r for r in rows if not (r.startswith("MA,2025-03-11") and r.endswith(tuple("13579")))]
    path.write_text("\n".join(lost))


def _parquet_of_text(folder: Path) -> None:
    replaced("district.toml", _ZONES, "readings/zones.parquet")(folder)
    (folder / "readings/zones.parquet").write_text("device_id,time,value")


def _twice(folder: Path) -> None:
    path = folder / "readings/zones.csv"
    path.write_text(path.read_text() + "MA,2025-03-11 05:00,9.99\n")


CASES: tuple[Case, ...] = (
    Case(
        "pipes file missing",
        gone("pipes.geojson"),
        "pipes: got no file, expected pipes.gpkg, pipes.geojson, pipes.shp, or a layer "
        "pipes in network.gpkg. Put it in the folder, or name yours under "
        "[layers.pipes] in district.toml.",
    ),
    Case(
        "sources file missing",
        gone("sources.geojson"),
        "sources: got no file, expected sources.gpkg, sources.geojson, sources.shp, or "
        "a layer sources in network.gpkg. Put it in the folder, or name yours under "
        "[layers.sources] in district.toml.",
    ),
    Case(
        "named file missing",
        more('[layers.valves]\nfile = "valve.shp"\n'),
        "valve.shp: got no such file, expected the file named in [layers.valves] of "
        "district.toml. Correct the name, or put the file there.",
    ),
    Case(
        "named records missing",
        more('[records.works]\nfile = "log.csv"\n'),
        "log.csv: got no such file, expected the file named in [records.works] of "
        "district.toml. Correct the name, or put the file there.",
    ),
    Case(
        "column missing",
        _drop_column("meters", "role"),
        "meters.geojson, column role: got no such column, expected one of inlet, "
        "transfer, outlet, building, customer: what it measures. Add the column, or "
        "name yours under [layers.meters.columns] in district.toml.",
    ),
    Case(
        "named column missing",
        more('[layers.pipes]\nfile = "pipes.geojson"\ncolumns = {material = "mat"}\n'),
        "pipes.geojson, column mat: got no such column, expected the column named as "
        "material in district.toml. Correct it under [layers.pipes.columns].",
    ),
    Case(
        "id missing",
        value("pipes", 1, "pipe_id", None),
        "pipes.geojson, feature 2, column pipe_id: got nothing, expected text. Correct the value.",
    ),
    Case(
        "duplicate id",
        value("pipes", 1, "pipe_id", "P1"),
        "pipes.geojson, pipe P1, column pipe_id: got P1 a second time, expected each "
        "only once. Give each its own id, or remove the copy.",
    ),
    Case(
        "text in a number column",
        value("pipes", 2, "diameter_mm", "wide"),
        'pipes.geojson, pipe P3, column diameter_mm: got "wide", expected a number in '
        "mm from 10 to 3000. Correct the value or leave it empty to use the default.",
    ),
    Case(
        "negative diameter",
        value("pipes", 2, "diameter_mm", -100),
        "pipes.geojson, pipe P3, column diameter_mm: got -100, expected a number in mm "
        "from 10 to 3000. Correct the value or leave it empty to use the default.",
    ),
    Case(
        "diameters in inches",
        _all("pipes", "diameter_mm", 4),
        "pipes.geojson, pipes P1, P2, P3 and 3 more, column diameter_mm: got 4, "
        "expected a number in mm from 10 to 3000. Correct the value or leave it empty "
        "to use the default.",
    ),
    Case(
        "year 9120",
        value("pipes", 3, "installed_year", 9120),
        "pipes.geojson, pipe P4, column installed_year: got 9120, expected a whole "
        "number from 1800 to 2100. Correct the value or leave it empty to use the "
        "default.",
    ),
    Case(
        "bad material",
        value("pipes", 0, "material", "wood"),
        'pipes.geojson, pipe P1, column material: got "wood", expected one of '
        "cast_iron, ductile_iron, steel, asbestos_cement, pvc, polyethylene, concrete, "
        "grp, copper, lead, unknown. Correct it, or say under "
        '[layers.pipes.values.material] in district.toml what it means, as in "wood" = '
        '"unknown".',
    ),
    Case(
        "bad role",
        value("meters", 0, "role", "intake"),
        'meters.geojson, meter MA, column role: got "intake", expected one of inlet, '
        "transfer, outlet, building, customer. Correct it, or say under "
        '[layers.meters.values.role] in district.toml what it means, as in "intake" = '
        '"inlet".',
    ),
    Case(
        "bad state of a valve",
        value("valves", 0, "state", "half"),
        'valves.geojson, valve V1, column state: got "half", expected one of open, '
        "shut. Correct it, or say under [layers.valves.values.state] in district.toml "
        'what it means, as in "half" = "open".',
    ),
    Case(
        "bad boolean",
        value("valves", 0, "operable", "perhaps"),
        'valves.geojson, valve V1, column operable: got "perhaps", expected true or '
        "false. Correct it, or say under [layers.valves.values.operable] in "
        'district.toml what it means, as in "perhaps" = "true".',
    ),
    Case(
        "half a property",
        value("connections", 1, "properties", 2.5),
        "connections.geojson, connection C2, column properties: got 2.5, expected a "
        "whole number from 0 to 10000. Correct the value or leave it empty to use the "
        "default.",
    ),
    Case(
        "empty layer",
        text("zones.geojson", '{"type":"FeatureCollection","features":[]}'),
        "zones.geojson: got no features, expected at least one: names of the metered "
        "zones; the balance itself follows the pipes. Export the layer again with its "
        "features.",
    ),
    Case(
        "broken GeoJSON",
        text("pipes.geojson", '{"type":"FeatureCollection","features":['),
        "pipes.geojson: got a file that cannot be read as a vector layer, expected a "
        "vector layer such as GeoPackage, GeoJSON or shapefile. Export it again from "
        "your GIS.",
    ),
    Case(
        "no CRS",
        _no_crs,
        "pipes.shp: got no coordinate reference system, expected one that says where on"
        " the earth the layer lies. Name it under [layers.pipes] in district.toml, as "
        'in crs = "EPSG:27700", or set it in your GIS and export again (a shapefile '
        "needs its .prj file).",
    ),
    Case(
        "two layers in a file",
        _two_layers,
        "pipes.gpkg: got 2 layers, none called pipes, expected one of mains, services. "
        "Name the right one as layer under [layers.pipes] in district.toml.",
    ),
    Case(
        "wrong geometry type",
        drawn("pipes", 1, "Point", [7.0, 47.0]),
        "pipes.geojson, pipe P2, column geometry: got a point, expected a line. Correct"
        " the geometry, or remove the feature.",
    ),
    Case(
        "two lines in one feature",
        drawn(
            "pipes",
            1,
            "MultiLineString",
            [[[7.001, 47.0], [7.0015, 47.0]], [[7.0016, 47.0], [7.002, 47.0]]],
        ),
        "pipes.geojson, pipe P2, column geometry: got 2 lines in one feature, expected "
        "a line. Correct the geometry, or remove the feature.",
    ),
    Case(
        "no geometry",
        features("meters", _no_geometry),
        "meters.geojson, meter CM1, column geometry: got no geometry, expected a point."
        " Correct the geometry, or remove the feature.",
    ),
    Case(
        "empty geometry",
        drawn("pipes", 1, "LineString", []),
        "pipes.geojson, pipe P2, column geometry: got an empty geometry, expected a "
        "line. Correct the geometry, or remove the feature.",
    ),
    Case(
        "coordinate without end",
        _infinite,
        "pipes.gpkg, pipe P4, column geometry: got an infinite or missing coordinate, "
        "expected numbers only. Correct the geometry, or remove the feature.",
    ),
    Case(
        "metres given as degrees",
        drawn("sources", 0, "Point", [571234.0, 5205678.0]),
        "sources.geojson, source S1, column geometry: got coordinates 571234, 5205678, "
        "expected coordinates within the reach of WGS 84. Correct the geometry, or the "
        "coordinate reference system of the file.",
    ),
    Case(
        "length unlike the map",
        value("pipes", 1, "length_m", 760),
        "pipes.geojson, pipe P2, column length_m: got 760 m, expected about the 76 m "
        "drawn on the map. Correct whichever is wrong; the stated length is used.",
    ),
    Case(
        "unknown time zone",
        replaced("district.toml", "Europe/Zurich", "Europe/Bernex"),
        'district.toml, district.timezone: got "Europe/Bernex", expected a time zone '
        'name such as "Europe/London" or "UTC". Correct the value.',
    ),
    Case(
        "bad TOML",
        text("district.toml", "[district\n"),
        "district.toml: got text that is not TOML (Expected ']' at the end of a table "
        "declaration (at line 1, column 10)), expected TOML in UTF-8: key = value lines"
        " under [section] headings. Mend that line; texts need quotation marks.",
    ),
    Case(
        "unknown key in TOML",
        more("[nihgt]\nstart = 02:00:00\n"),
        "district.toml, nihgt: got a key that is not known here, expected only keys "
        "listed in README, section Settings. Check the spelling, or remove the line.",
    ),
    Case(
        "unknown unit",
        more('[layers.pipes]\nfile = "pipes.geojson"\nunits = {diameter_mm = "span"}\n'),
        'district.toml, layers.pipes.units: got diameter_mm = "span", expected one '
        "of m, mm, cm, km, in, ft as unit of diameter_mm. Correct the value.",
    ),
    Case(
        "unit of a column without one",
        more('[layers.pipes]\nfile = "pipes.geojson"\nunits = {material = "m"}\n'),
        'district.toml, layers.pipes.units: got material = "m", expected columns '
        "with a unit of length, volume or flow, not material. Correct the value.",
    ),
    Case(
        "works at no time",
        replaced("works.csv", "2025-03-11 10:00", "in spring"),
        'works.csv, row 2, column start: got "in spring", expected a time. Correct the value.',
    ),
    Case(
        "works of an unknown kind",
        replaced("works.csv", "flushing", "painting"),
        'works.csv, row 2, column kind: got "painting", expected one of repair, '
        "flushing, fire_use, meter_change, valve_operation, planned_use, empty. Correct it, or"
        " say under [records.works.values.kind] in district.toml what it means, as in "
        '"painting" = "repair".',
    ),
    Case(
        "breaks without a pipe",
        replaced("breaks.csv", "P3", ""),
        "breaks.csv, row 2, column pipe_id: got nothing, expected text, or longitude_deg and "
        "latitude_deg instead. Fill it in where it is known; until then this break counts for "
        "no pipe.",
    ),
    Case(
        "no reading files",
        _readings_gone,
        "readings/*: got no reading file, expected CSV, XLSX or Parquet files of "
        "readings. Put them in readings, or name yours under [[readings]] in "
        "district.toml.",
    ),
    Case(
        "readings not there",
        replaced("district.toml", _ZONES, "readings/zone_*.csv"),
        "readings/zone_*.csv: got no reading file, expected the files named in "
        "[[readings]] of district.toml. Correct the pattern, or put the files there.",
    ),
    Case(
        "empty readings file",
        text(_ZONES, ""),
        "readings/zones.csv: got an empty file, expected readings: CSV, XLSX or Parquet"
        " with a heading and a row a time. Export it again, or remove it.",
    ),
    Case(
        "readings file of a heading only",
        text(_ZONES, "device_id,time,value\n"),
        "readings/zones.csv: got no readings below the heading, expected readings: CSV,"
        " XLSX or Parquet with a heading and a row a time. Export it again, or remove "
        "it.",
    ),
    Case(
        "not a Parquet file",
        _parquet_of_text,
        "readings/zones.parquet: got a file that cannot be read as parquet, expected "
        "readings: CSV, XLSX or Parquet with a heading and a row a time. Export it "
        "again, or remove it.",
    ),
    Case(
        "no time column",
        replaced(_ZONES, "device_id,time", "device_id,when"),
        "readings/zones.csv, column time: got no such column (the file has device_id, "
        "when, value), expected a time: when it was read. Add the column, or name yours"
        " in columns under [[readings]] in district.toml.",
    ),
    Case(
        "no value column",
        replaced(_ZONES, "time,value", "time,flow"),
        "readings/zones.csv, column value: got no such column (the file has device_id, "
        "time, flow), expected a number: register, pulses, rate, pressure, or 0/1. Add "
        "the column, or name yours in columns under [[readings]] in district.toml.",
    ),
    Case(
        "named reading column missing",
        replaced("district.toml", 'zones.csv"', 'zones.csv"\ncolumns = {time = "stamp"}'),
        "readings/zones.csv, column stamp: got no such column (the file has device_id, "
        "time, value), expected the column named as time in district.toml. Correct it "
        "in columns under [[readings]].",
    ),
    Case(
        "unknown reading column named",
        replaced("district.toml", 'zones.csv"', 'zones.csv"\ncolumns = {clock = "time"}'),
        'district.toml, readings.columns of readings/zones.csv: got "clock", expected '
        "one of device_id, time, value, rate, up_us, down_us. Correct the name.",
    ),
    Case(
        "wide file of unknown devices",
        replaced(_OTHERS, "CM1,PL1,WF1", "X1,X2,X3"),
        "readings/others.csv: got columns X1, X2, X3, expected a column a device, "
        "headed by its meter_id or sensor_id. Rename the columns, or name them in "
        "columns under [[readings]] in district.toml.",
    ),
    Case(
        "unknown device in a wide file",
        replaced(_OTHERS, "WF1", "WF9"),
        "readings/others.csv, device WF9: got 73 readings of a device that is on no "
        "layer, expected a meter_id of the meters or a sensor_id of the sensors. "
        "Correct the id, or add the device to its layer; its readings are left out.",
    ),
    Case(
        "unknown device",
        replaced(_ZONES, "MB,", "MX,", 3),
        "readings/zones.csv, device MX: got 3 readings of a device that is on no layer,"
        " expected a meter_id of the meters or a sensor_id of the sensors. Correct the "
        "id, or add the device to its layer; its readings are left out.",
    ),
    Case(
        "device without readings",
        replaced(_ZONES, "MB,", "MX,", 100),
        "meters.geojson, meter MB: got no readings, expected readings in one of the "
        "reading files. Add its readings, or correct its id.",
    ),
    Case(
        "readings with text",
        replaced(_ZONES, "00,1.", "00,err1.", 2),
        'readings/zones.csv, row 2, column value: got "err1.90", expected a number. '
        "Correct the value or leave it empty; it is left out.",
    ),
    Case(
        "readings with much text",
        replaced(_ZONES, "00,1.", "00,err1.", 20),
        'readings/zones.csv, rows 2, 28, 30 and 17 more, column value: got "err1.90", '
        '"err1.92", "err1.76" and others, expected a number. Correct the value or leave'
        " it empty; it is left out.",
    ),
    Case(
        "unreadable time",
        replaced(_ZONES, "2025-03-10 03:00", "on Monday", 1),
        'readings/zones.csv, row 8, column time: got "on Monday", expected a time as '
        "YYYY-MM-DD HH:MM. Correct the time; the reading is left out.",
    ),
    Case(
        "reading in the year 9120",
        replaced(_ZONES, "MA,2025-03-12", "MA,9120-03-12"),
        'readings/zones.csv, row 98, column time: got "9120-03-12 00:00", expected a '
        "time as YYYY-MM-DD HH:MM. Correct the time; the reading is left out.",
    ),
    Case(
        "skipped hour",
        replaced(_ZONES, "MA,2025-03-12 02:00", "MA,2025-03-30 02:00"),
        'readings/zones.csv, row 102, column time: got "2025-03-30 02:00", expected a '
        "time that exists: the clocks of Europe/Zurich go forward past it. Name the "
        "logger's own clock as timezone under [[readings]]; the reading is left out.",
    ),
    Case(
        "missing readings",
        _hours_lost,
        "readings/zones.csv, meter MA: got 14 % missing, expected at most 5 % of its "
        "readings missing. Look for them; times without readings are left out.",
    ),
    Case(
        "conflicting readings",
        _twice,
        "readings/zones.csv, row 148: got MA at the same time as 9.99 and 2.24, "
        "expected one value at a time for each device. Remove the wrong one; the later "
        "one is used.",
    ),
    Case(
        "flow meter in bar",
        value("meters", 0, "reading_unit", "bar"),
        'meters.geojson, meter MA, column reading_unit: got "bar", expected one of l/s,'
        " l/h, m3/h, m3/d, Ml/d, gpm, as it is an electromagnetic meter. Correct the "
        "unit, or the kind.",
    ),
    Case(
        "pressure logger in litres",
        value("sensors", 0, "reading_unit", "l"),
        'sensors.geojson, sensor PL1, column reading_unit: got "l", expected one of m, '
        "bar, kPa, psi, ft, as it is a pressure sensor. Correct the unit, or the kind.",
    ),
    Case(
        "pulse meter without volume",
        value("meters", 1, "litres_per_pulse", None),
        "meters.geojson, meter MB, column litres_per_pulse: got nothing, expected the "
        "volume of one pulse in L, as it is a pulse meter. Fill it in; it stands on the"
        " meter or its pulse unit.",
    ),
)
