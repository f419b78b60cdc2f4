"""Wet floors and the buildings they are in."""

from __future__ import annotations

from collections.abc import Callable
from zoneinfo import ZoneInfo

import pandas as pd

from district.detect.building import (
    joined,
    meter_buildings,
    sensor_buildings,
    spells,
    wet_rows,
)
from district.network import Network

D = pd.Timestamp
UTC = ZoneInfo("UTC")
Make = Callable[..., pd.DataFrame]


def flow(start: str, end: str | None = None) -> pd.DataFrame:
    return pd.DataFrame(
        {
            "place_id": ["B1"],
            "kind": ["building_flow"],
            "start": [D(start)],
            "end": [pd.NaT if end is None else D(end)],
        }
    )


def test_buildings_come_from_connections_and_sensors(network: Network) -> None:
    assert meter_buildings(network) == {"B1": "Hall"}
    assert sensor_buildings(network) == {"W1": "Hall"}


def test_spells_close_together_are_one_alarm(alarms_of: Make) -> None:
    rows = alarms_of(
        [
            ("W1", "2025-03-04T01:00", "2025-03-04T03:00"),
            ("W1", "2025-03-02T23:00", "2025-03-03T05:00"),
            ("W1", "2025-04-01T00:00", "2025-04-01T01:00"),
        ]
    )
    first, second = spells(rows, clock=UTC, last_known=D("2025-12-31"))
    assert (first.first, first.last, first.wet_h) == (D("2025-03-02"), D("2025-03-04"), 8.0)
    assert not first.open
    assert second.first == D("2025-04-01")


def test_an_alarm_that_lasts_to_the_end_is_open_and_dates_are_local(alarms_of: Make) -> None:
    rows = alarms_of([("W1", "2025-03-02T23:30", "2025-03-05T05:00")])
    (spell,) = spells(rows, clock=ZoneInfo("Europe/Athens"), last_known=D("2025-03-06"))
    assert spell.open
    assert spell.first == D("2025-03-03")


def test_the_flow_of_the_same_building_within_thirty_days_is_joined() -> None:
    meters = {"B1": "Hall"}
    assert joined("Hall", D("2025-03-01"), flow("2025-02-20"), meters) is not None
    assert joined("Hall", D("2025-03-01"), flow("2025-03-20"), meters) is not None
    assert joined("Hall", D("2025-03-01"), flow("2025-05-20"), meters) is None
    assert joined("Hall", D("2025-09-01"), flow("2025-02-20"), meters) is not None
    assert joined("Hall", D("2025-09-01"), flow("2025-02-20", "2025-03-01"), meters) is None
    assert joined("Barn", D("2025-03-01"), flow("2025-02-20"), meters) is None
    assert joined("Hall", D("2025-03-01"), pd.DataFrame(), meters) is None


def test_alarms_say_what_the_meter_of_the_building_says(network: Network, alarms_of: Make) -> None:
    rows = alarms_of(
        [
            ("W1", "2025-03-02T01:00", "2025-03-02T03:00"),
            ("W2", "2025-03-05T01:00", "2025-03-05T03:00"),
        ]
    )
    found = spells(rows, clock=UTC, last_known=D("2025-12-31"))
    hall, nowhere = wet_rows(found, network=network, flows=flow("2025-02-20")).to_dict("records")
    assert hall["reason"] == (
        "water on the floor of building Hall, first on 2025-03-02; the night flow of the "
        "building's meter B1 rose on 2025-02-20"
    )
    assert hall["cell_id"] == "V2"
    assert nowhere["reason"] == "water on the floor, first on 2025-03-05"
    (alone, _) = wet_rows(found, network=network, flows=pd.DataFrame()).to_dict("records")
    assert alone["reason"].endswith("no lasting rise at a meter of the building within 30 days")
