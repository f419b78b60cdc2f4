from __future__ import annotations

import pandas as pd
import pytest

from district.intake.guess import LEAST, how_like, name_likeness, sureness_of
from district.schema.inputs import CONNECTIONS, METERS, PIPES, SENSORS, VALVES


@pytest.mark.parametrize(
    ("name", "table"),
    [
        ("WTR_MAINS_2019", "pipes"),
        ("watermains", "pipes"),
        ("Wasserleitungen", "pipes"),
        ("Sluice_VLV", "valves"),
        ("pressure_reducing_valves", "valves"),
        ("zone_meters", "meters"),
        ("BulkMtrs", "meters"),
        ("meter_zones", "zones"),
        ("DMA boundary", "zones"),
        ("service connections", "connections"),
        ("pressure loggers", "sensors"),
        ("Service reservoirs", "sources"),
        ("bursts 2010-2024", "breaks"),
    ],
)
def test_the_chief_word_names_the_table(name: str, table: str) -> None:
    scores = name_likeness(name)
    assert max(scores, key=lambda t: scores[t][0]) == table


@pytest.mark.parametrize("name", ["foul_sewers", "Gas mains", "hydrants", "service laterals"])
def test_other_things_speak_against_every_table(name: str) -> None:
    assert all(score < 0 for score, _ in name_likeness(name).values())


def test_the_folder_is_heard_where_the_name_says_nothing() -> None:
    assert name_likeness("export_7", around="gis valves")["valves"] == (0.5, "valve")
    assert "valves" not in name_likeness("mains", around="gis valves")


def test_columns_tell_a_nameless_layer() -> None:
    frame = pd.DataFrame({"ID": ["a", "b"], "DIAM": [100, 150], "MATERIAL": ["pvc", "steel"]})
    assert how_like(PIPES, frame, name="layer1").score >= LEAST
    assert how_like(PIPES, frame[["ID"]], name="layer1").score < LEAST


def test_readings_tell_meters_and_sensors() -> None:
    frame = pd.DataFrame({"ID": ["m1", "m2", "m3"]})
    ids = frozenset({"m1", "m2", "m3"})
    assert how_like(METERS, frame, name="points", read_ids=ids).score > 0.7
    assert how_like(SENSORS, frame, name="points", read_ids=ids).score > 0.7
    assert how_like(VALVES, frame, name="points", read_ids=ids).score == 0.0


def test_connections_with_meter_ids_stay_connections() -> None:
    frame = pd.DataFrame({"SVC_NO": ["a", "b"], "METER_ID": ["m1", "m2"], "PROPS": [1, 4]})
    ids = frozenset({"m1", "m2"})
    connections = how_like(CONNECTIONS, frame, name="services", read_ids=ids)
    meters = how_like(METERS, frame, name="services", read_ids=ids)
    assert connections.score > meters.score


def test_sureness_falls_where_another_table_is_near() -> None:
    assert sureness_of((2.0, 0.1)) == "sure"
    assert sureness_of((2.0, 1.9)) == "likely"
    assert sureness_of((0.8, 0.1)) == "likely"
    assert sureness_of((0.8, 0.7)) == "unsure"
    assert sureness_of((0.4, 0.0)) == "unsure"
