"""Tanks: without a surface, on no pipe, before the meters, read twice or too seldom."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from typing import Any

import pandas as pd
import pytest
from shapely.geometry import Point

from district.check import check_network, check_tables
from district.check.tanks import bare_tanks, seldom_read
from district.check.wording import files_of
from district.errors import Finding
from district.network import build_network
from district.results import Inputs
from district.settings import Settings

Change = Callable[..., Inputs]
Says = Callable[..., list[str]]
OFF_PIPE = (
    "warning: sensors.geojson, sensor T1, column geometry: got 1 point farther than 60 m from "
    "every pipe in use, expected each tank within reach of the pipe it stands on. Move it onto its "
    "pipe, or add the missing main; until then its level is not used, and what it stores looks "
    "like use or leakage."
)
AT_SOURCE = (
    "note: sensors.geojson, sensor T1: got a tank in an area with a source, which no meter closes "
    "off, expected a tank inside a zone all of whose inflow is metered. Nothing need be done if it "
    "stands before the zone meters; its level is not used."
)


def tank(sensor_id: str = "T1", x_m: float = 300.0, y_m: float = 100.0, **more: Any) -> Any:
    row = {"sensor_id": sensor_id, "geometry": Point(x_m, y_m), "kind": "tank_level"}
    return {"surface_m2": 150.0, **row, **more}


def test_a_tank_without_surface(
    inputs: Inputs, settings: Settings, add: Change, says: Says
) -> None:
    broken = add(inputs, "sensors", tank(surface_m2=None), tank("T2", 500, 0))
    assert says(check_tables(broken, settings=settings)) == [
        "error: sensors.geojson, sensor T1, column surface_m2: got nothing, expected the plan area "
        "of the water surface in m², as every tank level needs. Fill it in; it stands on the "
        "drawings of the tank, or is measured on the map."
    ]


def test_a_surface_that_cannot_be_is_told_once(inputs: Inputs, add: Change) -> None:
    broken = add(inputs, "sensors", tank(surface_m2=None))
    told = Finding("error", "sensors.geojson", "sensor T1", "surface_m2", "-3")
    assert bare_tanks(replace(broken, findings=(told,))) == []


@pytest.mark.parametrize(
    ("x_m", "y_m", "expected"),
    [(500.0, 0.0, []), (500.0, 400.0, [OFF_PIPE]), (50.0, 0.0, [AT_SOURCE])],
)
def test_where_a_tank_stands(
    inputs: Inputs, add: Change, checked: Any, says: Says, x_m: float, y_m: float, expected: Any
) -> None:
    assert says(checked(add(inputs, "sensors", tank(x_m=x_m, y_m=y_m)))) == expected


def test_two_levels_of_one_tank(inputs: Inputs, add: Change, checked: Any, says: Says) -> None:
    twice = add(inputs, "sensors", tank(x_m=500, y_m=0), tank("T2", 500.5, 0), tank("T3", 550, 0))
    assert says(checked(twice)) == [
        "warning: sensors.geojson, sensors T1 and T2, column geometry: got 2 levels at one place, "
        "expected one level sensor for each tank. Remove all but one if they show the same tank, "
        "whose water would count 2 times."
    ]


def test_a_level_read_too_seldom(
    inputs: Inputs, settings: Settings, add: Change, says: Says
) -> None:
    network = build_network(add(inputs, "sensors", tank(x_m=500, y_m=0)), settings=settings)
    assert check_network(network, inputs, settings=settings) == ()
    records = pd.DataFrame({"device_id": ["T1", "L1"], "step_h": [2.0, 6.0], "source": "t.csv"})
    found = seldom_read(records.set_index("device_id"), network, files_of(records))
    assert says(found) == [
        "warning: t.csv, sensor T1: got a level every 2 h, expected one an hour or more often, so "
        "that the night's rise can be told. Read it every quarter of an hour; until then its zone "
        "has no night flow."
    ]
