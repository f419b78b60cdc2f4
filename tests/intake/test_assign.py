from __future__ import annotations

from pathlib import Path
from typing import Any

import geopandas as gpd
from shapely.geometry import LineString, Point, box

from district.intake.assign import assign_layers, devices_of, ids_of, with_references
from district.intake.survey import LayerSample, survey

SHAPES = {
    "Point": Point(7, 47),
    "LineString": LineString([(7, 47), (7.001, 47)]),
    "Polygon": box(7, 47, 7.1, 47.1),
}


def write(path: Path, kind: str, columns: dict[str, list[Any]], layer: str | None = None) -> None:
    count = len(next(iter(columns.values())))
    frame = gpd.GeoDataFrame(columns, geometry=[SHAPES[kind]] * count, crs=4326)
    frame.to_file(path, layer=layer) if layer else frame.to_file(path)


def sampled(folder: Path) -> list[LayerSample]:
    return survey(folder)[0]


MAINS = {"PIPE_NO": ["a", "b"], "DIAM": [100, 150], "MATL": ["pvc", "steel"]}


def test_each_layer_of_a_geopackage_finds_its_table(tmp_path: Path) -> None:
    file = tmp_path / "site.gpkg"
    write(file, "LineString", MAINS, "Layer1")
    write(file, "LineString", {"ID": [1, 2], "DIAM": [150, 225]}, "foul_sewers")
    write(file, "Polygon", {"DMA_CODE": ["z1", "z2"]}, "areas")
    write(file, "Point", {"VLV_NO": ["v"], "STATUS": ["open"]}, "valves")
    guesses, left = assign_layers(sampled(tmp_path), frozenset())
    assert [(g.table, g.layer) for g in guesses] == [
        ("pipes", "Layer1"),
        ("valves", "valves"),
        ("zones", "areas"),
    ]
    assert [(one.file, one.why) for one in left] == [
        ("site.gpkg, layer foul_sewers", 'its name says "foul", which is not looked for')
    ]


def test_of_two_alike_one_is_taken_and_the_other_named(tmp_path: Path) -> None:
    write(tmp_path / "mains_north.geojson", "LineString", MAINS)
    write(tmp_path / "mains_south.geojson", "LineString", MAINS)
    (guess,), left = assign_layers(sampled(tmp_path), frozenset())
    assert guess.file == "mains_north.geojson"
    assert guess.rivals == ("mains_south.geojson",)
    assert guess.sureness == "likely"
    assert [one.why for one in left] == ["it looks like pipes too"]


def test_lines_that_nothing_speaks_for_are_left_out(tmp_path: Path) -> None:
    write(tmp_path / "roads.geojson", "LineString", {"NAME": ["a", "b"]})
    write(tmp_path / "x.geojson", "LineString", {"ID": ["a", "b"]})
    guesses, left = assign_layers(sampled(tmp_path), frozenset())
    assert guesses == ()
    assert [one.file for one in left] == ["roads.geojson", "x.geojson"]


def test_ids_of_other_layers_tell_references_and_devices(tmp_path: Path) -> None:
    write(tmp_path / "zones.geojson", "Polygon", {"zone_id": ["A", "B"]})
    meters = {"No": ["m1", "m2"], "Into": ["A", "B"], "role": ["inlet", "transfer"]}
    write(tmp_path / "meters.geojson", "Point", meters)
    samples = sampled(tmp_path)
    guesses, _ = assign_layers(samples, frozenset({"m1", "m2"}))
    ids = {g.table: ids_of(g, samples) for g in guesses}
    assert ids == {"meters": {"m1", "m2"}, "zones": {"A", "B"}}
    again = [with_references(g, samples, ids, frozenset({"m1", "m2"})) for g in guesses]
    columns = {c.ours: c for g in again if g.table == "meters" for c in g.columns}
    assert (columns["downstream"].theirs, columns["downstream"].sureness) == ("Into", "sure")
    assert devices_of(again, samples) == {"m1": "", "m2": ""}
