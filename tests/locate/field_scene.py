"""A street with a branch: one zone behind meter M1, valves, sensors, and spots along its pipes.

S --(M1)---- P1 ----+-V1--- P2 ----+-V2-- P3 ----     P1, P2 cast iron, P3, P4 PVC; 600 m and
0    50           200 210        400 410        600   a branch P4 of 100 m from x = 200.
"""

from __future__ import annotations

from datetime import date
from typing import Any

import geopandas as gpd
import pandas as pd
from shapely.geometry import LineString, Point, box

from district.locate.prior import leak_prior
from district.locate.scene import Scene
from district.locate.spots import Sought, spots_of
from district.network import Network, build_network
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
from district.settings import District, Settings

CRS = 32630
LONDON = Settings(district=District(timezone="Europe/London"))
LEAK = Sought("A-1", "A", "leak", 1.0, 0.8, 1.2, *(date(2025, 10, d) for d in (20, 18, 23)))


def _layer(table: Table, **columns: object) -> gpd.GeoDataFrame:
    tidy, findings = check(
        table, gpd.GeoDataFrame(columns, geometry="geometry", crs=CRS), source=table.name
    )
    assert findings == ()
    return tidy


def street() -> Network:
    """The network."""
    houses = {"c1": (250, 8), "c2": (300, -8), "c3": (480, 8), "c4": (560, 8), "c5": (190, 8)}
    layers = {
        "pipes": _layer(
            PIPES,
            pipe_id=["P1", "P2", "P3", "P4"],
            geometry=[
                LineString([(0, 0), (200, 0)]),
                LineString([(200, 0), (400, 0)]),
                LineString([(400, 0), (600, 0)]),
                LineString([(200, 0), (200, 100)]),
            ],
            material=["cast_iron", "cast_iron", "pvc", "pvc"],
        ),
        "valves": _layer(
            VALVES,
            valve_id=["V1", "V2"],
            geometry=[Point(210, 0), Point(410, 0)],
            state=["open", "open"],
        ),
        "meters": _layer(
            METERS, meter_id=["M1"], geometry=[Point(50, 0)], role=["inlet"], downstream=["A"]
        ),
        "zones": _layer(ZONES, zone_id=["A"], geometry=[box(50, -50, 700, 150)]),
        "connections": _layer(
            CONNECTIONS,
            connection_id=list(houses),
            geometry=[Point(p) for p in houses.values()],
            building_id=["B7", None, None, None, None],
            properties=[10, 10, 10, 10, 10],
        ),
        "sensors": _layer(
            SENSORS,
            sensor_id=["X1", "X2", "W1"],
            geometry=[Point(300, 0), Point(580, 0), Point(250, 15)],
            kind=["acoustic", "acoustic", "wet_floor"],
            building_id=[None, None, "B7"],
        ),
        "sources": _layer(SOURCES, source_id=["S"], geometry=[Point(0, 0)]),
        "works": empty(WORKS),
        "breaks": empty(BREAKS),
        "defaults": pd.DataFrame(columns=["table", "column", "rows_count", "value"]),
    }
    return build_network(Inputs(**layers), settings=LONDON)  # type: ignore[arg-type]


def scene_of(sought: Sought = LEAK, network: Network | None = None) -> Scene:
    """The scene of a leak, spots ten metres apart."""
    network = street() if network is None else network
    spots = spots_of(network, leak_prior(network, empty(BREAKS), year=2025))
    own = spots.cell_id == sought.cell_id
    return Scene(network, spots, own, sought, LONDON, date(2025, 11, 30))


def rows(table: Table, *given: dict[str, Any]) -> pd.DataFrame:
    """Rows of a record as intake hands them on."""
    tidy, findings = check(
        table, pd.DataFrame(list(given), columns=list(table.names())), source=table.name
    )
    assert findings == ()
    return tidy


def best_x_m(scene: Scene, likely: Any) -> float:
    """Where along the street the likelihood is largest, mean of equal spots of the zone."""
    own = scene.own
    top = likely[own] >= likely[own].max() - 1e-9
    return float(scene.spots.x_m[own][top].mean())


def at(scene: Scene, likely: Any, x_m: float, y_m: float = 0.0) -> float:
    """The log-likelihood at the spot nearest to a point."""
    apart = (scene.spots.x_m - x_m) ** 2 + (scene.spots.y_m - y_m) ** 2
    return float(likely[apart.argmin()])
