from __future__ import annotations

import shutil
import warnings
from pathlib import Path

import geopandas as gpd
import pandas as pd
import pyogrio
import pytest
from shapely import from_wkb
from shapely.geometry import Point

from district.intake.layers import read_layers
from district.intake.vectors import NoLayerError, is_geoparquet, layers_in, read_features
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
