from __future__ import annotations

import json
from dataclasses import replace

from shapely.geometry import shape

from district.render import palette
from district.render.ahead_features import device_features, reach_features


def test_pipes_are_one_feature_a_class(report):
    found = reach_features(report, palette.SMALLEST, "smallest")
    # 0.06, 0.10, ... 0.46 L/s by pipe, and one without a figure.
    assert [f["properties"]["grade"] for f in found] == [-1, 1, 2, 3]
    assert [len(shape(f["geometry"]).geoms) for f in found] == [1, 1, 3, 7]
    assert {f["properties"]["role"] for f in found} == {"smallest"}
    walks = reach_features(report, palette.WALK, "walk")
    assert sum(len(shape(f["geometry"]).geoms) for f in walks) == 12


def test_without_look_ahead_there_is_nothing_to_draw(report):
    found = report.location
    bare = replace(
        found,
        detectability=found.detectability.iloc[:0],
        next_devices=found.next_devices.iloc[:0],
    )
    bare_report = replace(report, location=bare)
    assert reach_features(bare_report, palette.WALK, "walk") == []
    assert device_features(bare_report) == []


def test_devices_stand_on_their_pipes_with_gain_and_caution(report):
    first, second = device_features(report)
    assert first["properties"]["symbol"] == "next_pressure_logger"
    assert second["properties"]["symbol"] == "next_zone_meter"
    assert first["properties"]["tip"] == "Next pressure logger on P21 (its part P21/2)"
    assert "250\u00a0m (200 to 300)" in first["properties"]["popup"]
    assert "38\u00a0%" in first["properties"]["popup"]
    assert "confined spaces" in first["properties"]["popup"]
    assert "with P14 metered or shut as well" in second["properties"]["popup"]


def test_a_device_whose_pipe_is_not_on_the_map_is_left_out(report):
    devices = report.location.next_devices.assign(pipe_id=["gone", "P21/2"])
    found = device_features(
        replace(report, location=replace(report.location, next_devices=devices))
    )
    assert len(found) == 1


def test_no_value_reaches_the_features_raw(report):
    devices = report.location.next_devices.assign(cell_id="<script>", pipe_2_id="{{ 7 }}")
    changed = replace(report, location=replace(report.location, next_devices=devices))
    said = json.dumps(device_features(changed))
    assert "<script" not in said
    assert "{{" not in said
