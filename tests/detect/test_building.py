"""Which meters and sensors stand in which building."""

from __future__ import annotations

from dataclasses import replace

from district.detect.building import meter_buildings, sensor_buildings
from district.network import Network


def test_buildings_come_from_connections_and_sensors(network: Network) -> None:
    assert meter_buildings(network) == {"B1": "Hall"}
    assert sensor_buildings(network) == {"W1": "Hall"}


def test_a_layer_without_buildings_has_none(network: Network) -> None:
    bare = replace(network, sensors=network.sensors.drop(columns="building_id"))
    assert sensor_buildings(bare) == {}
