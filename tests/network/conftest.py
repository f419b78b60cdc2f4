"""A small district in memory: a reservoir, a trunk, zone A, and zone B behind A."""

from __future__ import annotations

from collections.abc import Callable

import geopandas as gpd
import pandas as pd
import pytest
from shapely.geometry import LineString, Point, box

from district.results import Inputs
from district.schema import check, empty
from district.schema.columns import Table
from district.schema.inputs import (
    BREAKS,
    CONNECTIONS,
    METERS,
    PIPES,
    SENSORS,
    SOURCES,
    VALVES,
    WORKS,
    ZONES,
)

CRS = 32630


def layer(table: Table, **columns: object) -> gpd.GeoDataFrame:
    frame = gpd.GeoDataFrame(columns, geometry="geometry", crs=CRS)
    tidy, findings = check(table, frame, source=table.name)
    assert findings == ()
    return tidy


def make_inputs(**changes: gpd.GeoDataFrame) -> Inputs:
    #  S ---T1---(M1)--- A1 --+-- A2 --(M2)-- B1 --+-- B2
    #                         |                    |
    #                         A3 ----[V1 shut]---- B3
    pipes = layer(
        PIPES,
        pipe_id=["T1", "A2", "A3", "B2", "B3"],
        geometry=[
            LineString([(0, 0), (200, 0)]),
            LineString([(200, 0), (400, 0)]),
            LineString([(200, 0), (200, 100), (300, 100)]),
            LineString([(400, 0), (600, 0)]),
            LineString([(400, 0), (400, 100), (300, 100)]),
        ],
        material=["pvc", "cast_iron", "pvc", "pvc", "pvc"],
    )
    base = {
        "pipes": pipes,
        "valves": layer(
            VALVES,
            valve_id=["V1", "V2"],
            geometry=[Point(320, 100), Point(205, 0)],
            state=["shut", "open"],
        ),
        "meters": layer(
            METERS,
            meter_id=["M1", "M2", "C1"],
            geometry=[Point(100, 0), Point(300, 0), Point(250, 10)],
            role=["inlet", "inlet", "customer"],
            downstream=["A", "B", None],
        ),
        "zones": layer(
            ZONES,
            zone_id=["A", "B"],
            geometry=[box(-10, -50, 310, 150), box(310, -50, 700, 150)],
            name=["Upper", None],
            parent_id=[None, "A"],
        ),
        "connections": layer(
            CONNECTIONS,
            connection_id=["c1", "c2", "c3"],
            geometry=[Point(250, 8), Point(500, -8), Point(390, 50)],
            properties=[1, 4, 2],
            meter_id=["C1", None, None],
            elevation_m=[10.0, 20.0, 30.0],
        ),
        "sensors": layer(SENSORS, sensor_id=["P1"], geometry=[Point(400, 0)], kind=["pressure"]),
        "sources": layer(SOURCES, source_id=["S"], geometry=[Point(0, 0)]),
        "works": empty(WORKS),
        "breaks": empty(BREAKS),
        "defaults": pd.DataFrame(columns=["table", "column", "rows_count", "value"]),
    }
    return Inputs(**{**base, **changes})  # type: ignore[arg-type]


@pytest.fixture
def inputs() -> Inputs:
    return make_inputs()


@pytest.fixture
def with_layers() -> Callable[..., Inputs]:
    return make_inputs
