from __future__ import annotations

import json
from dataclasses import replace

import pytest
from geopandas.testing import assert_geodataframe_equal

from district.render import features
from district.results import ShutOff


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


def test_no_value_reaches_the_features_raw(report):
    every = [
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


def test_a_pressure_logger_shows_whether_it_counts(report):
    checks = report.location.logger_checks
    swapped = checks.assign(sensor_id=["S<9>", "S1"])
    shown = []
    for told in (checks, swapped, checks.iloc[:0]):
        location = replace(report.location, logger_checks=told)
        found = features.sensor_features(replace(report, location=location))
        shown.append(next(f["properties"] for f in found if f["properties"]["tip"] == "Sensor S1"))
    assert [s["symbol"] for s in shown] == ["pressure", "pressure_unused", "pressure"]
    assert "0.050\u00a0m" in shown[0]["popup"]
    assert "no. It jumps by 2\u00a0m &lt;script&gt;" in shown[1]["popup"]
    assert "Missed by" not in shown[2]["popup"]


def test_a_zone_tells_what_is_looked_for_and_what_told_it(report):
    zones = {
        f["properties"]["tip"].partition(":")[0]: f["properties"]["popup"]
        for f in features.zone_features(report)
        if f["properties"]["role"] == "zone"
    }
    first = next(popup for tip, popup in zones.items() if tip.startswith("Upper"))
    assert "leak since 2031-04-05: walk 730\u00a0m of 960\u00a0m" in first
    assert (
        "pressure loggers moved it much (43\u00a0%): S1 fell by 0.4\u00a0m &lt;script&gt;" in first
    )
    second = next(popup for tip, popup in zones.items() if "alt" in tip)
    assert "excess without an event: walk 700\u00a0m" in second
    assert "no reading or record tells its place" in second


def popup_of(found, tip):
    return next(f["properties"]["popup"] for f in found if f["properties"]["tip"] == tip)


def test_devices_say_what_their_readings_show_and_their_open_events(report):
    meter = popup_of(features.meter_features(report), "Meter M&amp;B").replace("\u00a0", " ")
    assert "<dt>Building</dt><dd>Hall &lt;script&gt;" in meter
    assert "<dt>Its readings</dt><dd>never stops. 6 900 L a day runs without a stop</dd>" in meter
    assert "flow in a building that never stops, since 2031-04-05 (2031-04-03 to" in meter
    sensor = popup_of(features.sensor_features(report), "Sensor S3")
    assert "<dt>Behaves</dt><dd>goes on and off. It turned wet 40 times &lt;script" in sensor


def test_a_valve_that_shuts_by_itself_has_its_symbol_setting_and_caution(report):
    found = list(features.valve_features(report))
    valve = next(f["properties"] for f in found if "AV" in f["properties"]["tip"])
    assert valve["symbol"] == "valve_automatic_open"
    said = valve["popup"].replace("\u00a0", " ")
    assert "<dt>Setting</dt><dd>Trip when more than 0.1 L/s runs for 4 h</dd>" in said
    assert "Never on a pipe that feeds fire hoses" in said
    assert "<dt>Without power</dt><dd>it stays as it is</dd>" in said
    bare = list(features.valve_features(replace(report, shut_off=ShutOff())))
    assert "Never on a pipe that feeds fire hoses" in popup_of(bare, "Valve AV&lt;1&gt;")
    assert "fire hoses" not in popup_of(found, "Valve V1")


def test_a_zone_tells_its_open_events(report):
    zones = [f["properties"] for f in features.zone_features(report)]
    upper, second = (z["popup"].replace("\u00a0", " ") for z in zones[:2])
    assert "<dt>Open events</dt><dd>new leak, 92 %, since 2031-04-05" in upper
    assert "Hall &lt;script&gt;alert(1)&lt;/script&gt; (meter M&amp;B): flow in" in second


def test_collection_numbers_its_features(report):
    found = features.collection(features.valve_features(report))
    assert [f["id"] for f in found["features"]] == ["0", "1", "2", "3", "4"]


def test_layers_are_not_written_to(report):
    before = {name: getattr(report.layers, name).copy() for name in ("pipes", "zones", "valves")}
    features.zone_features(report)
    list(features.valve_features(report))
    for name, frame in before.items():
        assert_geodataframe_equal(getattr(report.layers, name), frame)
