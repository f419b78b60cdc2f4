"""Tests of `district.hydraulics.nodes`."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pandas as pd
import pytest

from district.hydraulics import draw_model
from district.network import build_network
from district.results import Inputs
from district.settings import Settings


def test_nodes_come_in_the_networks_order_and_the_parted_ones_after(
    with_layers: Callable[..., Inputs],
) -> None:
    network = build_network(with_layers(), settings=Settings())
    model = draw_model(network, settings=Settings()).model
    names = list(network.nodes.index)
    cut = network.nodes.index[network.nodes["cut"] == "V1"][0]
    assert model.node_id.tolist() == [*names, f"{cut}/2"]


def test_levels_come_from_connections_and_gauges(with_layers: Callable[..., Inputs]) -> None:
    network = build_network(with_layers(), settings=Settings())
    drawn = draw_model(network, settings=Settings())
    assert 10.0 <= drawn.model.elevation_m.min() < drawn.model.elevation_m.max() <= 30.0
    assert drawn.level_spread_m > 5.0  # three levels, 10 m apart
    assert any(s.startswith("Levels of the mains are taken from") for s in drawn.assumed)


def test_the_gauge_of_a_tank_is_not_ground(with_layers: Callable[..., Inputs]) -> None:
    """It stands in a water tower here: forty metres above the ground."""
    sensors = with_layers().sensors
    tower = sensors.assign(sensor_id="L1", kind="tank_level", elevation_m=60.0)
    network = build_network(with_layers(sensors=pd.concat([sensors, tower])), settings=Settings())
    drawn = draw_model(network, settings=Settings())
    assert drawn.model.elevation_m.max() <= 30.0


def test_without_any_level_pressures_rest_on_the_assumed_one(
    with_layers: Callable[..., Inputs],
) -> None:
    inputs = with_layers()
    bare = inputs.connections.assign(elevation_m=np.nan)
    told = inputs.sources.assign(head_m=90.0)
    network = build_network(with_layers(connections=bare, sources=told), settings=Settings())
    drawn = draw_model(network, settings=Settings())
    assert drawn.model.elevation_m == pytest.approx(50.0)
    assert "No level of the ground is told: pressures rest on 40 m everywhere." in drawn.assumed
