from __future__ import annotations

import json
from dataclasses import replace

import pytest
from geopandas.testing import assert_geodataframe_equal

from district.render import features


def test_degrees_are_right_and_short(report):
    placed = features.degrees(report.layers.sources)
    (lon, lat) = placed.geometry.iloc[0].coords[0]
    # UTM zone 33 north, E 400920 N 5651010: 51.0 degrees north, west of the 15 degree meridian.
    assert 13.5 < lon < 13.7
    assert lat == pytest.approx(51.0, abs=0.01)
    assert lon == pytest.approx(round(lon, 6), abs=1e-9)


def test_rows_without_place_are_left_out(report):
    sources = report.layers.sources
    sources.loc[0, "geometry"] = None
    assert len(features.degrees(sources)) == 0


def test_likelier_pipes_lie_over_others_and_sets_are_cased(report):
    pipes, casings = features.pipe_features(report)
    lines = [f["properties"]["grade"] for f in pipes if f["properties"]["role"] == "line"]
    assert lines == sorted(lines)
    assert lines.count(-1) == 4
    assert [f["properties"]["role"] for f in casings] == ["casing"] * 6 + ["gap"] * 6
    assert sum(f["properties"]["role"] == "touch" for f in pipes) == 11


def test_pipes_of_a_zone_that_is_not_searched_are_drawn_quiet(report):
    found = report.location
    one = replace(found, search_sets=found.search_sets.iloc[:1])
    pipes, _ = features.pipe_features(replace(report, location=one))
    lines = [f["properties"]["grade"] for f in pipes if f["properties"]["role"] == "line"]
    assert lines.count(-1) == 4 + 3


def test_no_value_reaches_the_features_raw(report):
    every = [
        *features.pipe_features(report)[0],
        *features.zone_features(report),
        *features.meter_features(report),
        *features.valve_features(report),
        *features.sensor_features(report),
        *features.source_features(report),
        *features.connection_features(report),
    ]
    said = json.dumps([f["properties"] for f in every])
    for raw in ("<script", "{{", "{%", "`", "${"):
        assert raw not in said


def test_zone_labels_show_the_figure_as_the_limits_allow(report):
    labels = [
        f["properties"]["label"]
        for f in features.zone_features(report)
        if f["properties"]["role"] == "label"
    ]
    assert [label.split("<br>")[1] for label in labels] == ["1.20 L/s", "0.15 L/s", "0.05 L/s"]


def test_collection_numbers_its_features(report):
    found = features.collection(features.valve_features(report))
    assert [f["id"] for f in found["features"]] == ["0", "1", "2", "3"]


def test_layers_are_not_written_to(report):
    before = {name: getattr(report.layers, name).copy() for name in ("pipes", "zones", "valves")}
    features.pipe_features(report)
    features.zone_features(report)
    list(features.valve_features(report))
    for name, frame in before.items():
        assert_geodataframe_equal(getattr(report.layers, name), frame)
