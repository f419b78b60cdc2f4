from __future__ import annotations

import json
from pathlib import Path

import geopandas as gpd
import pandas as pd
import pytest
from shapely.geometry import LineString, Point, box

from district.intake.survey import LAYER_ROWS, all_values, plain, survey


def test_layers_and_tables_of_all_subfolders_are_sampled(tmp_path: Path) -> None:
    (tmp_path / "gis" / "deep").mkdir(parents=True)
    line = LineString([(7.0, 47.0), (7.001, 47.0)])
    lines = gpd.GeoDataFrame({"ID": range(500)}, geometry=[line] * 500, crs=4326)
    lines.to_file(tmp_path / "gis" / "a.gpkg", layer="mains")
    points = gpd.GeoDataFrame({"ID": [1]}, geometry=[Point(7, 47)], crs=4326)
    points.to_file(tmp_path / "gis" / "a.gpkg", layer="valves")
    areas = gpd.GeoDataFrame({"ID": [1]}, geometry=[box(7, 47, 8, 48)], crs=4326)
    areas.to_file(tmp_path / "gis" / "deep" / "b.geojson")
    (tmp_path / "c.csv").write_text("time,value\n2025-01-01,1\n")
    layers, tables, left = survey(tmp_path)
    assert [(s.file, s.layer, s.several, s.geometry) for s in layers] == [
        ("gis/a.gpkg", "mains", True, "LineString"),
        ("gis/a.gpkg", "valves", True, "Point"),
        ("gis/deep/b.geojson", "b", False, "Polygon"),
    ]
    assert len(layers[0].frame) == LAYER_ROWS
    # One thousandth of a degree of longitude at 47 degrees is 76.1 m (WGS 84 ellipsoid).
    assert layers[0].drawn_m[0] == pytest.approx(76.06, abs=0.05)
    assert len(all_values(layers[0], "ID")) == 500
    assert [t.file for t in tables] == ["c.csv"]
    assert left == []


def test_what_cannot_be_read_is_told_and_own_pages_are_passed_over(tmp_path: Path) -> None:
    (tmp_path / "broken.shp").write_text("nothing")
    (tmp_path / "empty.csv").write_text("")
    (tmp_path / "head.csv").write_text("time,value\n")
    (tmp_path / "other.json").write_text('{"a": 1}')
    bare = {"type": "FeatureCollection", "features": []}
    (tmp_path / "none.geojson").write_text(json.dumps(bare))
    for place in ("maps", ".district"):
        (tmp_path / place).mkdir()
        (tmp_path / place / "zones.csv").write_text("time,value\n2025-01-01,1\n")
    (tmp_path / "maps" / "map.html").write_text("")
    (tmp_path / "maps" / "results.gpkg").write_text("")
    layers, tables, left = survey(tmp_path)
    assert (layers, tables) == ([], [])
    assert {one.file: one.why for one in left} == {
        "broken.shp": "it holds no layer that can be read",
        "empty.csv": "an empty file",
        "head.csv": "it has no rows below the heading",
        "none.geojson": "it has no features",
    }


def test_headings_that_come_twice_and_lists_in_cells_do_no_harm(tmp_path: Path) -> None:
    (tmp_path / "a.csv").write_text("time,a,a ,,\n2025-01-01,1,2,,\n")
    _, (table,), _ = survey(tmp_path)
    assert list(table.frame.columns)[:2] == ["time", "a"]
    assert table.frame.columns.is_unique
    frame = pd.DataFrame({"x": [[1], {"a": 2}, None]})
    assert list(plain(frame)["x"].dropna()) == ["[1]", "{'a': 2}"]


def test_every_sheet_is_a_table(tmp_path: Path) -> None:
    rows = pd.DataFrame({"time": ["2025-01-01 00:00"], "M1": [1.5]})
    with pd.ExcelWriter(tmp_path / "a.xlsx") as book:
        rows.to_excel(book, sheet_name="May", index=False, startrow=3)
        rows.to_excel(book, sheet_name="June", index=False)
        pd.DataFrame({"id": ["M1", "M2"], "l": [1, 2]}).to_excel(book, sheet_name="Meters")
        pd.DataFrame({"Read by hand": []}).to_excel(book, sheet_name="Notes", index=False)
    _, tables, left = survey(tmp_path)
    assert [(t.sheet(), t.shape.heading_row) for t in tables] == [
        ("May", 4),
        ("June", 1),
        ("Meters", 1),
    ]
    assert {t.timed for t in tables} == {("May", "June")}
    assert tables[0].place() == "a.xlsx, sheet May"
    assert [(one.file, one.why) for one in left] == [("a.xlsx, sheet Notes", "it holds no table")]
