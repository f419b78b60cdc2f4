from __future__ import annotations

from dataclasses import replace
from typing import Any

import geopandas as gpd
import numpy as np
import pytest
from shapely.geometry import Point

from district.network import Network, edges_with_tanks, tanks_of
from tests.balance.conftest import network_of


def with_sensors(network: Network, rows: list[dict[str, Any]]) -> Network:
    sensors = gpd.GeoDataFrame(rows, geometry=[Point(0, 0)] * len(rows), crs=network.pipes.crs)
    return replace(network, sensors=sensors.set_index("sensor_id", drop=False).rename_axis(None))


@pytest.fixture
def network() -> Network:
    plain: Network = network_of()
    return with_sensors(
        plain,
        [
            {"sensor_id": "T2", "kind": "tank_level", "cell_id": "South", "surface_m2": 40.0},
            {"sensor_id": "T1", "kind": "tank_level", "cell_id": "North", "surface_m2": 90.0},
            {"sensor_id": "T3", "kind": "tank_level", "cell_id": "", "surface_m2": 90.0},
            {"sensor_id": "T4", "kind": "tank_level", "cell_id": "North", "surface_m2": np.nan},
            {"sensor_id": "L1", "kind": "pressure", "cell_id": "North", "surface_m2": 90.0},
        ],
    )


def test_tanks_with_a_surface_in_a_cell(network: Network) -> None:
    assert tanks_of(network).to_dict("index") == {
        "T1": {"cell_id": "North", "surface_m2": 90.0},
        "T2": {"cell_id": "South", "surface_m2": 40.0},
    }


def test_a_tank_is_a_meter_out_of_its_cell(network: Network) -> None:
    assert edges_with_tanks(network).to_numpy().tolist() == [
        ["M1", "S", "North"],
        ["M2", "North", "South"],
        ["T1", "North", ""],
        ["T2", "South", ""],
    ]


def test_sensors_that_say_nothing_of_surfaces(network: Network) -> None:
    bare = replace(network, sensors=network.sensors.drop(columns="surface_m2"))
    assert tanks_of(bare).empty
    assert edges_with_tanks(bare)["meter_id"].tolist() == ["M1", "M2"]
