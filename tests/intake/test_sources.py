from __future__ import annotations

from pathlib import Path

import geopandas as gpd
import pytest
from shapely.geometry import Point

from district.intake.sources import (
    described_by,
    find_entries,
    find_readings,
    find_source,
    reading_files,
)
from district.settings import Layer, Readings, Settings


def touch(folder: Path, *names: str) -> None:
    for name in names:
        (folder / name).parent.mkdir(exist_ok=True)
        (folder / name).write_text("x")


def test_a_layer_is_found_by_its_name_in_any_capitals(tmp_path: Path) -> None:
    touch(tmp_path, "Pipes.GeoJSON", "pipes.csv")
    found = find_source(tmp_path, "pipes", Settings())
    assert found.path == tmp_path / "Pipes.GeoJSON"
    assert found.findings == ()


def test_a_second_file_of_the_name_is_told(tmp_path: Path) -> None:
    touch(tmp_path, "pipes.geojson", "pipes.gpkg")
    found = find_source(tmp_path, "pipes", Settings())
    assert found.path == tmp_path / "pipes.gpkg"
    assert [f.sentence() for f in found.findings] == [
        "pipes.geojson: got a second file for pipes, expected one; pipes.gpkg is used. Remove one, "
        "or name the right one under [layers.pipes] in district.toml."
    ]


def test_settings_come_first(tmp_path: Path) -> None:
    touch(tmp_path, "pipes.gpkg", "gis/mains.shp")
    settings = Settings(layers={"pipes": Layer(file="gis/mains.shp", layer="m")})
    found = find_source(tmp_path, "pipes", settings)
    assert (found.path, found.layer) == (tmp_path / "gis/mains.shp", "m")


def test_a_layer_in_one_common_file(tmp_path: Path) -> None:
    points = gpd.GeoDataFrame({"a": [1]}, geometry=[Point(7, 47)], crs="EPSG:4326")
    points.to_file(tmp_path / "network.gpkg", layer="valves")
    found = find_source(tmp_path, "valves", Settings())
    assert (found.path, found.layer) == (tmp_path / "network.gpkg", "valves")
    assert find_source(tmp_path, "sensors", Settings()).path is None


def test_files_in_parts_and_archives_are_found_by_name(tmp_path: Path) -> None:
    points = gpd.GeoDataFrame({"a": [1.5]}, geometry=[Point(7, 47)], crs="EPSG:4326")
    points.to_file(tmp_path / "valves.gdb", driver="OpenFileGDB")
    points.to_parquet(tmp_path / "sources.parquet")
    points.to_file(tmp_path / "zones.shp.zip", driver="ESRI Shapefile")
    points.drop(columns="geometry").to_parquet(tmp_path / "sensors.parquet")
    touch(tmp_path, "meters.zip")
    for name, file in (
        ("valves", "valves.gdb"),
        ("sources", "sources.parquet"),
        ("zones", "zones.shp.zip"),
    ):
        assert find_source(tmp_path, name, Settings()).path == tmp_path / file
    # Readings may be called so too: nothing with geometry is in them.
    assert find_source(tmp_path, "sensors", Settings()).path is None
    assert find_source(tmp_path, "meters", Settings()).path is None


def test_readings_rest_on_every_file_of_a_geodatabase(tmp_path: Path) -> None:
    touch(tmp_path, "meters.gdb/a.gdbtable", "meters.gdb/b.gdbindexes")
    found = [p.name for p in reading_files(tmp_path, Settings())]
    assert found == ["a.gdbtable", "b.gdbindexes"]


@pytest.mark.parametrize(("name", "count"), [("pipes", 1), ("valves", 0), ("works", 0)])
def test_only_needed_layers_must_be_there(tmp_path: Path, name: str, count: int) -> None:
    assert len(find_source(tmp_path, name, Settings()).findings) == count


def test_readings_without_settings_are_those_in_readings(tmp_path: Path) -> None:
    touch(tmp_path, "readings/b.csv", "readings/a.parquet", "readings/note.md", "other.csv")
    ((kind, files),) = find_readings(tmp_path, Settings())
    assert kind.layout == "long"
    assert [f.name for f in files] == ["a.parquet", "b.csv"]


def test_readings_by_pattern(tmp_path: Path) -> None:
    touch(tmp_path, "logs/m1.csv", "logs/m2.csv")
    kinds = (Readings(files="logs/*.csv"), Readings(files=str(tmp_path / "logs/m1.csv")))
    found = find_readings(tmp_path, Settings(readings=kinds))
    assert [[f.name for f in files] for _, files in found] == [["m1.csv", "m2.csv"], ["m1.csv"]]


def test_readings_rest_on_all_that_describes_devices(tmp_path: Path) -> None:
    """Pipes tell bores, valves what cannot run back, works when a meter was changed."""
    touch(tmp_path, "readings/a.csv", "meters.shp", "meters.dbf", "METERS.txt", "zones.gpkg")
    touch(tmp_path, "pipes.gpkg", "pipes.gpkg-wal", "valves.SHP", "valves.DBF", "works.csv")
    names = [p.name for p in reading_files(tmp_path, Settings())]
    assert names == [
        *("a.csv", "meters.shp", "meters.dbf", "pipes.gpkg", "pipes.gpkg-wal"),
        *("valves.SHP", "valves.DBF", "works.csv"),
    ]


@pytest.mark.parametrize("pattern", ["**x", "/", "", "..", "a\0b", "y" * 300, "["])
def test_a_pattern_that_is_none_finds_nothing(tmp_path: Path, pattern: str) -> None:
    touch(tmp_path, "readings/a.csv")
    ((_, files),) = find_readings(tmp_path, Settings(readings=(Readings(files=pattern),)))
    assert files == []


@pytest.mark.parametrize("name", ["y" * 300, "a\0b", "", ".", "gis"])
def test_a_name_no_file_can_have_is_told(tmp_path: Path, name: str) -> None:
    touch(tmp_path, "gis/pipes.gpkg")
    found = find_source(tmp_path, "pipes", Settings(layers={"pipes": Layer(file=name)}))
    assert found.path is None
    assert found.findings[0].source == (name or "district.toml")
    assert found.findings[0].got == ("no such file" if name else "no name of a file")


def test_what_is_called_right_but_is_no_file_is_told(tmp_path: Path) -> None:
    (tmp_path / "pipes.gpkg").mkdir()
    (tmp_path / "works.csv").symlink_to("works.csv")
    told = [
        find_source(tmp_path, name, Settings()).findings[0].sentence()
        for name in ("pipes", "works")
    ]
    assert told == [
        "pipes.gpkg: got a folder, expected a file. Put the file itself there, or remove it.",
        "works.csv: got a link that leads to no file, expected a file. Put the file itself there, "
        "or remove it.",
    ]
    touch(tmp_path, "pipes.geojson")
    assert find_source(tmp_path, "pipes", Settings()).path == tmp_path / "pipes.geojson"


def test_the_mark_beside_an_open_book_is_no_reading_file(tmp_path: Path) -> None:
    touch(tmp_path, "readings/a.xlsx", "readings/~$a.xlsx")
    for settings in (Settings(), Settings(readings=(Readings(files="readings/*.xlsx"),))):
        ((_, files),) = find_readings(tmp_path, settings)
        assert [p.name for p in files] == ["a.xlsx"]


def test_every_layer_and_record_counts_with_what_lies_beside_it(tmp_path: Path) -> None:
    touch(tmp_path, "pipes.shp", "pipes.dbf", "works.csv", "zones.geojson", "readings/a.csv")
    names = [p.name for p in described_by(tmp_path, Settings())]
    assert sorted(names) == ["pipes.dbf", "pipes.shp", "works.csv", "zones.geojson"]


def test_forms_lie_in_entries_or_where_the_settings_say(tmp_path: Path) -> None:
    touch(tmp_path, "entries/b.csv", "entries/a.xlsx", "entries/~$a.xlsx", "entries/note.txt")
    touch(tmp_path, "forms/c.csv")
    assert find_entries(tmp_path, Settings()) == (
        [tmp_path / "entries/a.xlsx", tmp_path / "entries/b.csv"],
        [],
    )
    said = Settings(records={"entries": Layer(file="forms/*.csv")})
    assert find_entries(tmp_path, said) == ([tmp_path / "forms/c.csv"], [])
    # A morning must be made anew where a form came; readings need not be.
    assert tmp_path / "entries/b.csv" in described_by(tmp_path, Settings())
    assert tmp_path / "entries/b.csv" not in reading_files(tmp_path, Settings())
