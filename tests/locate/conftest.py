"""Networks typed or drawn for locating: pipes in cells, nothing between them."""

from __future__ import annotations

from collections.abc import Callable

import geopandas as gpd
import numpy as np
import pandas as pd
import pytest
from shapely.geometry import LineString, Point

from district.network import Network
from district.schema import empty
from district.schema.outputs import EVENTS, ZONES


def pipe_table(rows: int, *, cells: int, seed: int) -> pd.DataFrame:
    random = np.random.default_rng(seed)
    materials = ["cast_iron", "pvc", "asbestos_cement", "ductile_iron", "unknown"]
    year = random.integers(1900, 2020, rows).astype(float)
    return pd.DataFrame(
        {
            "pipe_id": [f"P{i:05d}" for i in range(rows)],
            "cell_id": [f"V{c}" for c in random.integers(0, cells, rows)],
            "length_m": random.uniform(10, 300, rows).round(1),
            "material": random.choice(materials, rows),
            "diameter_mm": random.choice([80.0, 100.0, 150.0, 300.0], rows),
            "installed_year": np.where(random.random(rows) < 0.1, np.nan, year),
            "connections_count": random.integers(0, 12, rows),
        }
    )


def make_network(table: pd.DataFrame) -> Network:
    table = table.copy()
    defaults = {
        "cell_id": "V1",
        "length_m": 100.0,
        "material": "pvc",
        "diameter_mm": 100.0,
        "installed_year": 1980.0,
        "connections_count": 0,
    }
    for name, value in defaults.items():
        if name not in table:
            table[name] = value
    if "layer_pipe_id" not in table:
        table["layer_pipe_id"] = table["pipe_id"]
    count = len(table)
    pipes = gpd.GeoDataFrame(
        table.drop(columns=["pipe_id", "connections_count"]).assign(
            start_position=np.arange(count), end_position=np.arange(count) + 1, roughness=120.0
        ),
        geometry=[LineString([(i, 0), (i + 1, 0)]) for i in range(count)],
        crs=32630,
    )
    pipes.index = pd.Index(table["pipe_id"], name=None)
    owner = np.repeat(np.arange(count), table["connections_count"])
    owners = table["pipe_id"].to_numpy()[owner]
    # Evenly along the pipe, which is drawn 1 m long whatever its length.
    turn = np.arange(len(owner)) - np.searchsorted(owner, owner)
    at = owner + (turn + 0.5) / table["connections_count"].to_numpy()[owner]
    connections = gpd.GeoDataFrame(
        {"pipe_id": owners, "private_pipe_m": 0.0, "meter_id": "", "building_id": ""},
        geometry=[Point(x, 0) for x in at],
        crs=32630,
        index=[f"C{i}" for i in range(len(owners))],
    )
    nodes = gpd.GeoDataFrame(
        {"cut": [""] * (count + 1)},
        geometry=[Point(i, 0) for i in range(count + 1)],
        crs=32630,
    )
    none = gpd.GeoDataFrame({"cell_id": []}, geometry=[], crs=32630)
    return Network(
        nodes=nodes,
        pipes=pipes,
        cells=pd.DataFrame(index=sorted(table["cell_id"].unique())),
        boundaries=pd.DataFrame(),
        connections=connections,
        valves=none,
        sensors=none,
        sources=none,
        meters=none,
        zones=none,
    )


def make_zones(excess: dict[str, tuple[float, float, float]]) -> pd.DataFrame:
    frame = pd.DataFrame({"cell_id": list(excess)})
    for i, name in enumerate(("excess_l_s", "excess_l_s_low", "excess_l_s_high")):
        frame[name] = [v[i] for v in excess.values()]
    return frame.reindex(columns=list(ZONES.names()))


def make_breaks(rows: list[tuple[str, str]], kind: str = "main") -> pd.DataFrame:
    return pd.DataFrame(
        {
            "date": pd.to_datetime([d for d, _ in rows]),
            "pipe_id": [p for _, p in rows],
            "kind": [kind] * len(rows),
        }
    )


@pytest.fixture
def network_of() -> Callable[..., Network]:
    return make_network


@pytest.fixture
def pipes_of() -> Callable[..., pd.DataFrame]:
    return pipe_table


@pytest.fixture
def zones_of() -> Callable[..., pd.DataFrame]:
    return make_zones


@pytest.fixture
def breaks_of() -> Callable[..., pd.DataFrame]:
    return make_breaks


@pytest.fixture
def no_events() -> pd.DataFrame:
    return empty(EVENTS)
