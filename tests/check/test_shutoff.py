"""Valves that shut a building by themselves, and sensors in buildings that nobody names."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest
from shapely.geometry import Point

from district.check import check_network
from district.check.shutoff import check_shutoff
from district.errors import Finding
from district.network import build_network
from district.results import Inputs
from district.settings import Settings

Change = Callable[..., Inputs]
Says = Callable[[Any], list[str]]
VALVE = {
    "valve_id": "A1",
    "geometry": Point(250, 40),
    "kind": "automatic_shutoff",
    "state": "open",
    "building_id": "Mill House",
    "fail_position": "shut",
}


@pytest.fixture
def housed(inputs: Inputs, edit: Change) -> Inputs:
    return edit(inputs, "connections", "C1", building_id="Mill House")


def test_a_valve_of_a_building_that_is_served_says_nothing(housed: Inputs, add: Change) -> None:
    assert check_shutoff(add(housed, "valves", VALVE)) == []


def test_a_valve_of_a_building_that_no_connection_names(
    housed: Inputs, add: Change, says: Says
) -> None:
    broken = add(housed, "valves", VALVE | {"building_id": "Mill"})
    assert says(check_shutoff(broken)) == [
        'warning: valves.geojson, valve A1, column building_id: got "Mill", expected a building_id '
        "of connections.geojson: Mill House. Correct the value, or fill it in there; until then no "
        "setting is advised for it."
    ]


def test_a_valve_without_a_building_or_a_fail_position(
    housed: Inputs, add: Change, says: Says
) -> None:
    bare = add(housed, "valves", VALVE | {"building_id": None, "fail_position": None})
    assert says(check_shutoff(bare)) == [
        "warning: valves.geojson, valve A1, column building_id: got nothing, expected the building "
        "that a valve of kind automatic_shutoff shuts. Fill it in; until then no setting is "
        "advised for it.",
        "warning: valves.geojson, valve A1, column fail_position: got nothing, expected open, shut "
        "or stays: what a valve of kind automatic_shutoff does without power. Find out and fill it "
        "in; it decides who is without water in a power cut.",
    ]


def test_other_valves_need_neither(housed: Inputs) -> None:
    assert check_shutoff(housed) == []


def test_a_sensor_in_a_building_that_no_connection_names(
    housed: Inputs, add: Change, says: Says
) -> None:
    cable = {"sensor_id": "K9", "geometry": Point(0, 0), "kind": "leak_cable"}
    assert check_shutoff(add(housed, "sensors", cable)) == []
    (sentence,) = says(check_shutoff(add(housed, "sensors", cable | {"building_id": "Barn"})))
    assert sentence.startswith(
        'warning: sensors.geojson, sensor K9, column building_id: got "Barn", expected a'
    )


def test_such_a_valve_need_not_stand_on_a_main(
    housed: Inputs, add: Change, settings: Settings
) -> None:
    def off_pipes(inputs: Inputs) -> list[Finding]:
        network = build_network(inputs, settings=settings)
        found = check_network(network, inputs, settings=settings)
        return [f for f in found if f.place == "valve A1" and f.column == "geometry"]

    assert off_pipes(add(housed, "valves", VALVE)) == []
    assert len(off_pipes(add(housed, "valves", VALVE | {"kind": "isolation"}))) == 1
