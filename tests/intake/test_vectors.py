from __future__ import annotations

import shutil
import sqlite3
import struct
import warnings
import zipfile
from pathlib import Path

import geopandas as gpd
import numpy as np
import pandas as pd
import pyogrio
import pyogrio.raw
import pytest
from shapely import from_wkb, line_merge
from shapely.geometry import LineString, MultiLineString, Point

from district.intake.layers import read_layers
from district.intake.vectors import (
    NoLayerError,
    is_geoparquet,
    is_vector_file,
    layer_names,
    layers_in,
    read_features,
)
from district.settings import Settings


@pytest.fixture
def points() -> gpd.GeoDataFrame:
    places = [Point(7.0 + 0.001 * n, 47.0) for n in range(5)]
    return gpd.GeoDataFrame({"source_id": list("abcde")}, geometry=places, crs="EPSG:4326")


def test_every_kind_of_file_gives_the_same_features(
    points: gpd.GeoDataFrame, tmp_path: Path
) -> None:
    points.to_file(tmp_path / "a.gpkg", layer="tanks")
    points.to_file(tmp_path / "b.geojson")
    points.to_parquet(tmp_path / "c.parquet")
    (tmp_path / "shape").mkdir()
    points.to_file(tmp_path / "shape" / "d.shp")
    shutil.make_archive(str(tmp_path / "d"), "zip", tmp_path / "shape")
    for name, layer in {
        "a.gpkg": "tanks",
        "b.geojson": "b",
        "c.parquet": "c",
        "d.zip": "d",
    }.items():
        assert layers_in(tmp_path / name) == [layer]
        read = read_features(tmp_path / name, layer, limit=3)
        assert list(read.frame["source_id"]) == ["a", "b", "c"]
        assert list(from_wkb(read.wkb)) == list(points.geometry[:3])
        assert read.crs == points.crs


def test_tables_without_geometry_are_no_layers(tmp_path: Path) -> None:
    table = pd.DataFrame({"pipe_id": ["P1"]})
    pyogrio.write_dataframe(table, tmp_path / "a.gpkg")
    table.to_parquet(tmp_path / "b.parquet")
    (tmp_path / "c.json").write_text('{"a": 1}')
    for name in ("a.gpkg", "b.parquet", "c.json"):
        assert layers_in(tmp_path / name) == []
        with pytest.raises(NoLayerError):
            read_features(tmp_path / name, None)
    assert not is_geoparquet(tmp_path / "c.json")


def test_geoparquet_is_read_as_a_layer_of_the_folder(
    points: gpd.GeoDataFrame, tmp_path: Path
) -> None:
    points.to_parquet(tmp_path / "tanks.parquet")
    settings = Settings.model_validate({"layers": {"sources": {"file": "tanks.parquet"}}})
    with warnings.catch_warnings():
        warnings.simplefilter("error")
        inputs = read_layers(tmp_path, settings)
    assert list(inputs.sources["source_id"]) == list("abcde")
    assert inputs.sources.geometry.notna().all()


LINES = [LineString([(7, 47, 400), (7.001, 47, 401)]), LineString([(7, 47, 1), (7, 47.001, 2)])]


def mains() -> gpd.GeoDataFrame:
    columns = {"pipe_id": ["P1", "P2"], "material": ["CI", "Größe"]}
    return gpd.GeoDataFrame(columns, geometry=LINES, crs="EPSG:4326")


def put(frame: gpd.GeoDataFrame, path: Path, driver: str | None = None, **options: str) -> None:
    with warnings.catch_warnings():
        # Remarks on what a format cannot keep; what is kept is tested.
        warnings.simplefilter("ignore")
        pyogrio.write_dataframe(frame, path, driver=driver, **options)


@pytest.mark.parametrize(
    ("name", "driver"),
    [
        ("a.gpkg", "GPKG"),
        ("a.geojson", "GeoJSON"),
        ("a.fgb", "FlatGeobuf"),
        ("a.gml", "GML"),
        ("a.kml", "LIBKML"),
        ("a.kmz", "LIBKML"),
        ("a.tab", "MapInfo File"),
        ("a.mif", "MapInfo File"),
        ("a.sqlite", "SQLite"),
        ("a.gdb", "OpenFileGDB"),
        ("a.shp", "ESRI Shapefile"),
    ],
)
def test_lines_with_heights_in_every_format(name: str, driver: str, tmp_path: Path) -> None:
    put(mains(), tmp_path / name, driver)
    assert is_vector_file(tmp_path / name)
    assert layers_in(tmp_path / name) == ["a"]
    read = read_features(tmp_path / name, None)
    by_id = dict(zip(read.frame["pipe_id"], from_wkb(read.wkb), strict=True))
    assert dict(zip(read.frame["pipe_id"], read.frame["material"], strict=True)) == {
        "P1": "CI",
        "P2": "Größe",
    }
    for pipe_id, line in zip(("P1", "P2"), LINES, strict=True):
        # A geodatabase keeps every line as one in parts.
        assert line_merge(by_id[pipe_id]).equals_exact(line, 1e-7)
    assert read.crs is not None
    assert read.crs.to_epsg() == 4326


def test_kinds_that_mix_are_read_whatever_the_file_declares(tmp_path: Path) -> None:
    mixed = mains().set_geometry([LINES[0], MultiLineString([LINES[1]])], crs="EPSG:4326")
    put(mixed, tmp_path / "a.gml", "GML")
    assert layers_in(tmp_path / "a.gml") == ["a"]
    assert len(read_features(tmp_path / "a.gml", "a").wkb) == 2
    assert len(read_features(tmp_path / "a.gml", None, limit=1).wkb) == 1


@pytest.mark.parametrize("declared", ["GEOMETRY", "COMPOUNDCURVE", "MULTICURVE"])
def test_arcs_become_lines(declared: str, tmp_path: Path) -> None:
    def points(*places: tuple[float, float]) -> bytes:
        return struct.pack("<I", len(places)) + b"".join(struct.pack("<dd", *p) for p in places)

    arc = struct.pack("<BI", 1, 8) + points((5.0, 0.0), (6.0, 1.0), (7.0, 0.0))
    straight = struct.pack("<BI", 1, 2) + points((0.0, 0.0), (5.0, 0.0))
    both = struct.pack("<BII", 1, 9, 2) + straight + arc
    path = tmp_path / "a.gpkg"
    pyogrio.raw.write(
        path,
        geometry=np.array([arc, both], dtype=object),
        field_data=[np.array(["A", "B"], dtype=object)],
        fields=["pipe_id"],
        geometry_type="Unknown",
        crs="EPSG:32632",
    )
    with sqlite3.connect(path) as base:
        base.execute(f"UPDATE gpkg_geometry_columns SET geometry_type_name='{declared}'")
    base.close()
    assert layers_in(path) == ["a"]
    one, two = from_wkb(read_features(path, None).wkb)
    # Half a circle of radius 1, and five metres before it.
    assert one.length == pytest.approx(np.pi, rel=1e-3)
    assert two.length == pytest.approx(5 + np.pi, rel=1e-3)


@pytest.mark.parametrize("inner", ["", "gis/export/"])
def test_a_zipped_shapefile_wherever_it_lies_in_the_archive(inner: str, tmp_path: Path) -> None:
    put(mains(), tmp_path / "a.shp", encoding="cp1252")
    (tmp_path / "a.cpg").unlink()
    with zipfile.ZipFile(tmp_path / "a.zip", "w") as archive:
        for part in ("shp", "shx", "dbf", "prj"):
            archive.write(tmp_path / f"a.{part}", f"{inner}Leitungen.{part}")
        archive.writestr("__MACOSX/._Leitungen.shp", b"")
    assert layers_in(tmp_path / "a.zip") == ["Leitungen"]
    assert list(read_features(tmp_path / "a.zip", None).frame["material"]) == ["CI", "Größe"]


def test_other_files_in_a_zip(tmp_path: Path) -> None:
    put(mains(), tmp_path / "a.gpkg")
    put(mains(), tmp_path / "b.gdb", "OpenFileGDB")
    with zipfile.ZipFile(tmp_path / "a.zip", "w") as archive:
        archive.write(tmp_path / "a.gpkg", "deep/a.gpkg")
    shutil.make_archive(str(tmp_path / "b"), "zip", tmp_path, "b.gdb")
    (tmp_path / "c.zip").write_bytes(b"PK no archive")
    assert layers_in(tmp_path / "a.zip") == ["a"]
    assert layers_in(tmp_path / "b.zip") == ["b"]
    assert layers_in(tmp_path / "c.zip") == []


def test_a_drawing_has_layers_and_handles_for_attributes(tmp_path: Path) -> None:
    drawing = gpd.GeoDataFrame({"Layer": ["CI", "DI"]}, geometry=LINES)
    put(drawing, tmp_path / "a.dxf", "DXF")
    read = read_features(tmp_path / "a.dxf", None)
    assert list(read.frame["Layer"]) == ["CI", "DI"]
    assert read.frame["EntityHandle"].is_unique
    assert read.crs is None


def test_geojson_says_its_crs_or_is_taken_for_degrees(tmp_path: Path) -> None:
    place = '{"type":"Feature","properties":{},"geometry":{"type":"Point","coordinates":[1,2]}}'
    crs = '"crs":{"type":"name","properties":{"name":"urn:ogc:def:crs:EPSG::27700"}},'
    for name, said, epsg in (("a", crs, 27700), ("b", "", 4326)):
        text = f'{{"type":"FeatureCollection",{said}"features":[{place}]}}'
        (tmp_path / f"{name}.geojson").write_text(text)
        read = read_features(tmp_path / f"{name}.geojson", None)
        assert read.crs is not None
        assert read.crs.to_epsg() == epsg


def test_data_in_kml_without_a_schema(tmp_path: Path) -> None:
    (tmp_path / "a.kml").write_text(
        '<kml xmlns="http://www.opengis.net/kml/2.2"><Document><Folder><name>Mains</name>'
        "<Placemark><name>P1</name><ExtendedData><Data name='material'><value>CI</value></Data>"
        "</ExtendedData><LineString><coordinates>7,47,0 7.1,47,0</coordinates></LineString>"
        "</Placemark></Folder></Document></kml>"
    )
    assert layers_in(tmp_path / "a.kml") == ["Mains"]
    read = read_features(tmp_path / "a.kml", None)
    assert read.frame[["Name", "material"]].to_numpy().tolist() == [["P1", "CI"]]


def test_all_layers_have_names_and_those_with_geometry_are_told_apart(tmp_path: Path) -> None:
    put(mains(), tmp_path / "a.gpkg", layer="mains")
    pyogrio.write_dataframe(pd.DataFrame({"style": ["x"]}), tmp_path / "a.gpkg", layer="styles")
    assert layer_names(tmp_path / "a.gpkg") == ["mains", "styles"]
    assert layers_in(tmp_path / "a.gpkg") == ["mains"]
    assert layer_names(tmp_path / "none.gpkg") == []
    assert not is_vector_file(tmp_path / ("x" * 5000))


@pytest.mark.parametrize(
    ("lost", "said"),
    [
        ([".dbf"], "a shapefile without its .dbf file"),
        ([".dbf", ".shx"], "a shapefile without its .dbf and .shx file"),
    ],
)
def test_a_shapefile_without_its_other_files(
    points: gpd.GeoDataFrame, tmp_path: Path, lost: list[str], said: str
) -> None:
    points.to_file(tmp_path / "a[1].shp")
    assert len(read_features(tmp_path / "a[1].shp", None).frame) == 5
    for suffix in lost:
        (tmp_path / f"a[1]{suffix}").unlink()
    with pytest.raises(NoLayerError, match=said):
        read_features(tmp_path / "a[1].shp", None)
