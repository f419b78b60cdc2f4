"""Networks with stretches to search, for the tests of the walk."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date
from pathlib import Path
from typing import Any

import geopandas as gpd
import numpy as np
import pandas as pd
from scipy.sparse import csr_array
from scipy.sparse.csgraph import connected_components, dijkstra
from shapely.geometry import LineString, Point, box

from district.network import Network, build_network
from district.network.ways import pipes_in_order
from district.opening import Opened
from district.results import Balance, Basis, Events, Inputs, Location, Reduced
from district.schema import empty
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
from district.schema.outputs import LIKELIHOOD, STRETCHES
from district.settings import Settings
from tests.network.conftest import layer

Told = tuple[float, float | None, float | None]
"""Share of the zone's flow on a stretch, and from and to where it is walked."""


def grid_apart(side: int, pieces: int, seed: int) -> Any:
    """Distances between the ends of pieces drawn from a grid of streets, and a home, last."""
    random = np.random.default_rng(seed)
    node = np.arange(side**2).reshape(side, side)
    across, down = (
        (node[:, :-1].ravel(), node[:, 1:].ravel()),
        (node[:-1].ravel(), node[1:].ravel()),
    )
    ends = np.concatenate([np.column_stack(across), np.column_stack(down)])
    ends = ends[random.random(len(ends)) < 0.85]
    length = random.uniform(20, 150, len(ends))
    links = csr_array((length, (ends[:, 0], ends[:, 1])), shape=(side**2, side**2))
    label = connected_components(links, directed=False)[1]
    here = label == np.bincount(label).argmax()
    chosen = random.choice(np.flatnonzero(here[ends[:, 0]]), pieces, replace=False)
    home = random.choice(np.flatnonzero(here))
    terminals = np.append(ends[chosen].ravel(), home)
    return dijkstra(links, directed=False)[np.ix_(terminals, terminals)]


def ladder(*, spacing_m: float = 100.0, **materials: str) -> Network:
    """Two long streets and three rungs, a branch, and pipe Q of another part with no way to it.

    S -(M1)- A --- B --- C --- D    y = 0       valves at x = 110, 210; connections every 25 m
                   |     |     |                of A..D; pipe E ends dead at x = 350
                   F --- G --- H    y = 100
    """
    d = spacing_m
    corners: dict[str, list[tuple[float, float]]] = {
        "A": [(0, 0), (d, 0)],
        "B": [(d, 0), (2 * d, 0)],
        "C": [(2 * d, 0), (3 * d, 0)],
        "E": [(3 * d, 0), (3.5 * d, 0)],
        "R1": [(d, 0), (d, d)],
        "R2": [(2 * d, 0), (2 * d, d)],
        "R3": [(3 * d, 0), (3 * d, d)],
        "F": [(d, d), (2 * d, d)],
        "G": [(2 * d, d), (3 * d, d)],
        "Q": [(6 * d, 0), (7 * d, 0)],
    }
    houses = {f"H{n}": (25.0 * n, 4.0) for n in range(1, 12)}
    layers = {
        "pipes": layer(
            PIPES,
            pipe_id=list(corners),
            geometry=[LineString(c) for c in corners.values()],
            material=[materials.get(p, "cast_iron") for p in corners],
        ),
        "valves": layer(
            VALVES,
            valve_id=["V1", "V2", "V3"],
            geometry=[Point(d + 10, 0), Point(2 * d + 10, 0), Point(2 * d, d - 10)],
            state=["open", "open", "open"],
        ),
        "meters": layer(
            METERS, meter_id=["M1"], geometry=[Point(30, 0)], role=["inlet"], downstream=["Z"]
        ),
        "zones": layer(
            ZONES, zone_id=["Z"], geometry=[box(30, -50, 8 * d, 2 * d)], name=["Upper row"]
        ),
        "connections": layer(
            CONNECTIONS,
            connection_id=[*houses, "HY1"],
            geometry=[*map(Point, houses.values()), Point(2.5 * d, d + 2)],
            use_class=["household"] * len(houses) + ["fire hydrant"],
        ),
        "sensors": layer(
            SENSORS,
            sensor_id=["N1", "W1"],
            geometry=[Point(3 * d, 50), Point(120, 20)],
            kind=["acoustic", "wet_floor"],
        ),
        "sources": layer(SOURCES, source_id=["S"], geometry=[Point(0, 0)]),
        "works": empty(WORKS),
        "breaks": empty(BREAKS),
        "defaults": pd.DataFrame(columns=["table", "column", "rows_count", "value"]),
    }
    return build_network(Inputs(**layers), settings=Settings())


def location(network: Network, told: Mapping[str, Told]) -> tuple[pd.DataFrame, pd.DataFrame]:
    """Tables STRETCHES and LIKELIHOOD where the pipes of the layer are stretches of one zone that
    loses 2 L/s; probability even along each."""
    pipes = pipes_in_order(network)
    length = pipes["length_m"].astype(float)
    stretch = pipes["layer_pipe_id"]
    share = length / stretch.map(length.groupby(stretch).sum())
    parts = pd.DataFrame(
        {
            "pipe_id": pipes.index,
            "stretch_id": stretch.to_numpy(),
            "cell_id": "Z",
            "length_m": length.to_numpy(),
            "probability_share": [
                told.get(s, (0.0, None, None))[0] * k for s, k in zip(stretch, share, strict=True)
            ],
            "along_m": 0.5 * length.to_numpy(),
            "along_m_low": 0.025 * length.to_numpy(),
            "along_m_high": 0.975 * length.to_numpy(),
        }
    ).reindex(columns=list(LIKELIHOOD.names()))
    whole = length.groupby(stretch).sum()
    rows = [
        {
            "stretch_id": name,
            "cell_id": "Z",
            "length_m": metres,
            "in_set": name in told,
            "from_m": np.nan if name not in told else told[name][1] or 0.0,
            "to_m": np.nan if name not in told else told[name][2] or metres,
            "probability_share": told.get(name, (0.0, None, None))[0],
            "probability_share_low": told.get(name, (0.0, None, None))[0] / 2,
            "probability_share_high": min(1.0, 2 * told.get(name, (0.0, None, None))[0]),
            "along_m": metres / 2,
            "along_m_low": 0.025 * metres,
            "along_m_high": 0.975 * metres,
            "flow_l_s": 2.0,
            "sought_ids": "E-Z-1" if name in told else "",
        }
        for name, metres in whole.items()
    ]
    return pd.DataFrame(rows).reindex(columns=list(STRETCHES.names())), parts


def streets_about() -> gpd.GeoDataFrame:
    """One street along the upper row and one square to it that crosses it without a corner."""
    lines = [LineString([(0, -10), (720, -10)]), LineString([(150, -60), (150, 160)])]
    return gpd.GeoDataFrame({"street_id": ["1", "2"]}, geometry=lines, crs=32630)


def located(network: Network, told: Mapping[str, Told], folder: Path) -> tuple[Any, ...]:
    """What `pipeline.locate_folder` gives of such a network, what the walk does not need left
    empty."""
    stretches, likelihood = location(network, told)
    pipes = gpd.GeoDataFrame(empty(PIPES), geometry="geometry")
    inputs = Inputs(
        **dict.fromkeys(("pipes", "valves", "meters", "zones", "connections", "sensors"), pipes),
        sources=pipes,
        works=empty(WORKS),
        breaks=empty(BREAKS),
        defaults=pd.DataFrame(),
    )
    none = pd.DataFrame()
    reduced = Reduced(none, none, none, none, none, none)
    opened = Opened(folder, Settings(), inputs, network, reduced, ())
    balance = Balance(none, none, none, none, none, Basis(last=date(2025, 6, 30)))
    return opened, balance, Events(none, Basis()), Location(likelihood, stretches, none, Basis())
