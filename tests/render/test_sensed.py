from __future__ import annotations

from dataclasses import replace

from district.render import sensed
from district.render.explain import SENSED_WORDS, SENSOR_WORDS
from district.render.named_places import verdict_said
from district.schema.event_tables import SENSOR_VERDICTS
from district.schema.inputs import ALARM_KINDS


def test_the_silent_first_and_the_sound_only_counted(report):
    told = sensed.alarm_sensors(report)
    assert [row["sensor_id"] for row in told["rows"]] == ["S4", "S3"]
    assert told["sound"] == 1
    assert told["rows"][1]["name"] == "Hall"
    assert told["rows"][1]["verdict_words"] == "goes on and off"


def test_no_sensor_is_no_row(report):
    none = replace(report.events, sensor_checks=report.events.sensor_checks.iloc[:0])
    told = sensed.alarm_sensors(replace(report, events=none))
    assert (told["rows"], told["sound"]) == ([], 0)


def test_every_kind_and_verdict_has_words():
    assert set(SENSED_WORDS) == set(ALARM_KINDS)
    assert set(SENSOR_WORDS) == set(SENSOR_VERDICTS)
    assert verdict_said({"verdict": "silent", "said": ""}, SENSOR_WORDS) == "silent"
