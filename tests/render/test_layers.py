from __future__ import annotations

from dataclasses import replace

import geopandas as gpd
import numpy as np
import pyogrio
import pytest
from geopandas.testing import assert_geodataframe_equal

from district.errors import OutputError
from district.render.layers import result_layers, write_layers
from district.schema import outputs


def test_layers_can_be_read_with_their_columns_and_crs(report, tmp_path):
    path = write_layers(report, tmp_path / "r.gpkg")
    names = [name for name, _ in pyogrio.list_layers(path)]
    assert " ".join(names) == (
        "pipes stretches zones meters valves sensors connections sources new_valves next_devices "
        "repairs"
    )
    for name in names:
        assert pyogrio.read_dataframe(path, layer=name).crs == report.layers.pipes.crs
    pipes = pyogrio.read_dataframe(path, layer="pipes")
    assert set(outputs.LIKELIHOOD.names()) <= set(pipes.columns)
    assert len(pipes) == 12
    assert pipes["in_set"].sum() == 7
    stretches = pyogrio.read_dataframe(path, layer="stretches")
    assert set(outputs.STRETCHES.names()) <= set(stretches.columns)
    assert list(stretches["parts_count"].dropna()) == [1, 1, 1, 1, 2, 1, 1]
    top = pipes.loc[pipes["probability_share"].idxmax()]
    assert top["pipe_id"] == 'P11/<script>alert(1)</script>"&'
    assert top["rank"] == 1
    zones = pyogrio.read_dataframe(path, layer="zones")
    assert set(outputs.ZONES.names()) <= set(zones.columns)
    assert list(zones["excess_l_s"]) == [1.2, 0.15, 0.05]


def test_same_bytes_and_the_option_is_put_back(report, tmp_path):
    before = pyogrio.get_gdal_config_option("OGR_CURRENT_DATE")
    first = write_layers(report, tmp_path / "a.gpkg").read_bytes()
    assert write_layers(report, tmp_path / "b.gpkg").read_bytes() == first
    assert pyogrio.get_gdal_config_option("OGR_CURRENT_DATE") == before
    assert b"2031-04-29T00:00:00" in first


def test_empty_layers_keep_their_shape(report, tmp_path):
    layers = replace(
        report.layers,
        sensors=report.layers.sensors.iloc[:0],
        zones=report.layers.zones.iloc[:0],
    )
    path = write_layers(replace(report, layers=layers), tmp_path / "r.gpkg")
    assert len(pyogrio.read_dataframe(path, layer="sensors")) == 0
    assert pyogrio.read_info(path, layer="zones")["geometry_type"] == "Polygon"


def test_repairs_stand_where_they_were_made(report, tmp_path):
    pipes = report.layers.pipes
    repairs = gpd.GeoDataFrame(
        {
            "what": ["snapped_end", "self_loop"],
            "pipe_id": ["P11", "P12"],
            "other_id": ["P13", ""],
            "distance_m": [0.25, np.nan],
        },
        geometry=pipes.geometry.iloc[:2].interpolate(0.0).to_numpy(),
        crs=pipes.crs,
    )
    layers = replace(report.layers, repairs=repairs)
    path = write_layers(replace(report, layers=layers), tmp_path / "r.gpkg")
    read = pyogrio.read_dataframe(path, layer="repairs")
    assert list(read.columns) == list(outputs.REPAIRS.names())
    assert read["distance_m"].tolist() == pytest.approx([0.25, np.nan], nan_ok=True)
    assert read.geometry.geom_equals_exact(repairs.geometry, tolerance=0).all()
    assert read.crs == pipes.crs


def test_layers_given_are_not_written_to(report):
    before = report.layers.pipes.copy()
    result_layers(report)
    assert_geodataframe_equal(report.layers.pipes, before)


@pytest.mark.parametrize("wrong", [pyogrio.errors.FeatureError, pyogrio.errors.DataSourceError])
def test_a_disk_that_fails_is_told(report, tmp_path, monkeypatch, wrong):
    def fail(*_, **__):
        raise wrong("no such table: pipes")

    monkeypatch.setattr(pyogrio, "write_dataframe", fail)
    with pytest.raises(
        OutputError, match=r"r\.gpkg: cannot be written \(the disk is full or failed"
    ):
        write_layers(report, tmp_path / "r.gpkg")
    assert list(tmp_path.iterdir()) == []


def test_what_would_be_seen_of_the_next_leak_is_on_the_layers(report, tmp_path):
    path = write_layers(report, tmp_path / "r.gpkg")
    pipes = pyogrio.read_dataframe(path, layer="pipes")
    assert pipes["smallest_l_s"].notna().sum() == 11
    sensors = pyogrio.read_dataframe(path, layer="sensors").set_index("sensor_id")
    assert sensors.loc["S1", "after_m"] == 0.05
    assert bool(sensors.loc["S1", "used"])
    assert sensors["used"].isna().sum() == 3  # not pressure loggers: not compared
    devices = pyogrio.read_dataframe(path, layer="next_devices")
    assert list(devices["rank"]) == [1, 2]
    whole = report.layers.pipes.set_index("pipe_id").geometry["P21/2"]
    assert whole.distance(devices.geometry[0]) < 1e-6


def test_without_a_location_the_layers_keep_their_columns(report, tmp_path):
    found = report.location
    bare = replace(
        found,
        detectability=found.detectability.iloc[:0],
        logger_checks=found.logger_checks.iloc[:0],
        next_devices=found.next_devices.iloc[:0],
    )
    path = write_layers(replace(report, location=bare), tmp_path / "r.gpkg")
    assert len(pyogrio.read_dataframe(path, layer="next_devices")) == 0
    assert "after_m" in pyogrio.read_info(path, layer="sensors")["fields"]
