"""A small clean district in memory: a reservoir, zone MILL, and zone QUAY fed through it.

S --T1--(M1)--T1-- + --A2--(M2)--A2-- + --B2--
                   A3 ----[V1 shut]-- B3
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace
from typing import Any

import geopandas as gpd
import pandas as pd
import pytest
from shapely.geometry import LineString, Point, box

from district.check import check_network
from district.errors import Finding
from district.network import build_network
from district.results import Inputs
from district.schema import check
from district.schema.columns import Table
from district.schema.inputs import LAYERS, RECORDS
from district.settings import Allowance, Settings

CRS = 32630
TABLES: dict[str, Table] = {t.name: t for t in (*LAYERS, *RECORDS)}
ROWS: dict[str, list[dict[str, Any]]] = {
    "pipes": [
        {"pipe_id": "T1", "geometry": LineString([(0, 0), (200, 0)])},
        {"pipe_id": "A2", "geometry": LineString([(200, 0), (400, 0)])},
        {"pipe_id": "A3", "geometry": LineString([(200, 0), (200, 100), (300, 100)])},
        {"pipe_id": "B2", "geometry": LineString([(400, 0), (600, 0)])},
        {"pipe_id": "B3", "geometry": LineString([(400, 0), (400, 100), (300, 100)])},
    ],
    "valves": [
        {"valve_id": "V1", "geometry": Point(310, 100), "state": "shut"},
        {"valve_id": "V2", "geometry": Point(205, 0), "state": "open"},
    ],
    "meters": [
        {"meter_id": "M1", "geometry": Point(100, 0), "role": "inlet", "downstream": "MILL"},
        {"meter_id": "M2", "geometry": Point(300, 0), "role": "transfer", "downstream": "QUAY"},
        {"meter_id": "K1", "geometry": Point(250, 9), "role": "building"},
    ],
    "zones": [
        {"zone_id": "MILL", "geometry": box(100, -50, 300, 150)},
        {"zone_id": "QUAY", "geometry": box(300, -50, 700, 150), "parent_id": "MILL"},
    ],
    "connections": [
        {"connection_id": "C1", "geometry": Point(250, 8), "meter_id": "K1"},
        {"connection_id": "C2", "geometry": Point(500, -8)},
        {"connection_id": "C3", "geometry": Point(390, 50)},
    ],
    "sensors": [
        {"sensor_id": "L1", "geometry": Point(400, 0), "kind": "pressure", "elevation_m": 12.0}
    ],
    "sources": [{"source_id": "S", "geometry": Point(0, 0)}],
    "works": [
        {
            "start": "2025-03-04T09:00:00Z",
            "end": "2025-03-04T11:00:00Z",
            "kind": "repair",
            "place_id": "A2",
        }
    ],
    "breaks": [{"date": "2024-11-02", "pipe_id": "A2"}],
}


def _key(table: str) -> str:
    return TABLES[table].key[0]


def table_of(name: str, rows: Sequence[dict[str, Any]]) -> Any:
    table = TABLES[name]
    frame: Any = pd.DataFrame(list(rows), columns=list(table.names()))
    if table.geometry is not None:
        frame = gpd.GeoDataFrame(frame, geometry="geometry", crs=CRS)
    tidy, findings = check(table, frame, source=name)
    assert findings == ()
    return tidy


@pytest.fixture
def inputs() -> Inputs:
    tables = {name: table_of(name, rows) for name, rows in ROWS.items()}
    records = {t.name for t in RECORDS}
    files = {n: f"{n}.csv" if n in records else f"{n}.geojson" for n in TABLES}
    defaults = pd.DataFrame(columns=["table", "column", "rows_count", "value"])
    return Inputs(**tables, defaults=defaults, files=files)


@pytest.fixture
def settings() -> Settings:
    return Settings(allowances={"commercial": Allowance(l_property_h=8.0)})


@pytest.fixture
def add() -> Callable[..., Inputs]:
    """Rows added to a table of the inputs."""

    def added(inputs: Inputs, table: str, *rows: dict[str, Any]) -> Inputs:
        frame = getattr(inputs, table)
        more = pd.concat([frame, table_of(table, rows)], ignore_index=True)
        if TABLES[table].geometry is not None:
            more = gpd.GeoDataFrame(more, geometry="geometry", crs=CRS)
        return replace(inputs, **{table: more})

    return added


@pytest.fixture
def edit() -> Callable[..., Inputs]:
    """Values of one row (by its id, or the first) of a table of the inputs replaced."""

    def edited(inputs: Inputs, table: str, row_id: str, **values: Any) -> Inputs:
        frame = getattr(inputs, table).copy()
        rows = frame.index[frame[_key(table)] == row_id] if row_id else frame.index[:1]
        assert len(rows) == 1
        for column, value in values.items():
            frame.at[rows[0], column] = value
        return replace(inputs, **{table: frame})

    return edited


@pytest.fixture
def drop() -> Callable[..., Inputs]:
    """Rows (by their ids) of a table of the inputs removed."""

    def dropped(inputs: Inputs, table: str, *row_ids: str) -> Inputs:
        frame = getattr(inputs, table)
        kept = frame[~frame[_key(table)].isin(row_ids)].reset_index(drop=True)
        return replace(inputs, **{table: kept})

    return dropped


@pytest.fixture
def says() -> Callable[..., list[str]]:
    """Severity and sentence of each finding."""

    def said(findings: Sequence[Finding]) -> list[str]:
        return [f"{f.severity}: {f.sentence()}" for f in findings]

    return said


@pytest.fixture
def checked(settings: Settings) -> Callable[[Inputs], tuple[Finding, ...]]:
    """What the check of the built network finds."""

    def found(inputs: Inputs) -> tuple[Finding, ...]:
        network = build_network(inputs, settings=settings)
        return check_network(network, inputs, settings=settings)

    return found
