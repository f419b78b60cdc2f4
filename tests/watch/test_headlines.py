from __future__ import annotations

import pytest

from district.schema.event_tables import (
    ALARMS_OF,
    EVENT_KINDS,
    REPAIR_VERDICTS,
    SENSOR_VERDICTS,
    STILL_VERDICTS,
)
from district.watch.headlines import (
    KINDS,
    building_line,
    event_line,
    repair_line,
    sensor_line,
    sure,
)
from tests.watch.rows import BUILDING_CHECKS, EVENTS, around, check, event, of, repair, sensor


def test_every_kind_and_verdict_that_can_be_an_alarm_has_words() -> None:
    quiet = {"still", "below_resolution", "too_few", "sound"}
    named = {*EVENT_KINDS, *REPAIR_VERDICTS, *SENSOR_VERDICTS, *STILL_VERDICTS} - quiet
    assert named <= set(KINDS)
    assert "device" in ALARMS_OF


def test_a_leak_says_how_much_since_when_and_what_it_cost() -> None:
    row = event(
        kind="growing_leak",
        kind_share=0.82,
        **around("growth_l_s_d", 0.01, 0.002),
        **around("volume_m3", 120, 10),
        cost_currency=90.0,
    )
    said = event_line(of(EVENTS, row).iloc[0], "zone Upper", "EUR").replace("\xa0", " ")
    assert said == (
        "Growing leak (probability 82 %) in zone Upper: 1.00 L/s (0.90 to 1.10) since 2031-03-10, "
        "growing by 0.0100 L/s per day (0.0080 to 0.0120); to date 120 m³ (110 to 130), EUR 90.0."
    )


def test_an_unsure_kind_says_so() -> None:
    said = event_line(of(EVENTS, event(kind_share=0.4)).iloc[0], "zone Upper", "EUR")
    assert said.startswith("New leak (only 40 % sure) in zone Upper")


def test_no_probability_is_said_to_be_certain() -> None:
    assert [sure(share) for share in (0.9998, 0.617, 0.004)] == ["> 99 %", "62 %", "< 1 %"]
    said = event_line(of(EVENTS, event(kind_share=0.9998)).iloc[0], "zone Upper", "EUR")
    assert said.startswith("New leak (probability > 99 %) in zone Upper")


def test_a_sensor_s_alarm_has_no_flow() -> None:
    row = {"place_kind": "sensor", "place_id": "W1", "kind": "wet_floor", "state": "open"}
    said = event_line(of(EVENTS, {**row, "start": "2031-03-10"}).iloc[0], "sensor W1", "EUR")
    assert said == "Water on the floor: sensor W1 since 2031-03-10."


def test_a_building_s_meter() -> None:
    row = of(BUILDING_CHECKS, check(**around("cost_currency_year", 600, 100))).iloc[0]
    said = building_line(row, "building Hall (meter M1)", "EUR").replace("\xa0", " ")
    assert said.startswith("Flow that never stops in building Hall (meter M1): 0.020 L/s")
    assert "since 2031-03-10; it costs EUR 600 per year" in said
    empty = of(BUILDING_CHECKS, check(verdict="empty_flow")).iloc[0]
    assert building_line(empty, "meter M1", "EUR").startswith("Flow while nobody is there in meter")
    dead = of(BUILDING_CHECKS, check(verdict="dead")).iloc[0]
    assert "counts nothing since 2031-03-10" in building_line(dead, "meter M1", "EUR")


@pytest.mark.parametrize(
    ("verdict", "said"),
    [
        ("verified", "worked, night flow fell by 0.90"),
        ("partly", "worked in part, night flow fell by"),
        ("another_leak", "but another leak remains: 0.10"),
        ("not_seen", "does not show in the night flow"),
        ("too_early", "too early to tell"),
    ],
)
def test_a_repair(verdict: str, said: str) -> None:
    assert said in repair_line(repair(verdict), "zone Upper")


def test_a_sensor_that_cannot_be_believed() -> None:
    assert "goes on and off" in sensor_line(sensor(), "sensor W1")
    assert sensor_line(sensor("always_on"), "sensor W1").startswith("Sensor W1 is always in alarm")
