"""A street of mains for the tests of costs: a trunk, a main parted by a valve, a side street.

S --T1-- + --A1--[V1]--A1-- + --B1--
         + --C1 (a dead end north of the first corner)
"""

from __future__ import annotations

from functools import cache
from typing import Any

import geopandas as gpd
import pandas as pd
from shapely.geometry import LineString, Point, box

from district.network import Network, build_network
from district.results import Inputs, Isolation
from district.schema import check
from district.schema.columns import Table, empty
from district.schema.inputs import LAYERS, OTHER_LAYERS, RECORDS
from district.schema.isolate_tables import SEGMENT_LOSSES, SEGMENT_PIPES
from district.schema.outputs import LIKELIHOOD
from district.schema.pressures import ZONE_PRESSURE
from district.settings import Settings

CRS = 32630
TABLES: dict[str, Table] = {t.name: t for t in (*LAYERS, *OTHER_LAYERS, *RECORDS)}
Rows = list[dict[str, Any]]
CELL = "supply S"
"""The one zone, fed without a meter."""
PIPES: Rows = [
    {"pipe_id": "T1", "geometry": LineString([(0, 0), (200, 0)]), "diameter_mm": 200.0},
    {"pipe_id": "A1", "geometry": LineString([(200, 0), (400, 0)]), "diameter_mm": 100.0},
    {"pipe_id": "B1", "geometry": LineString([(400, 0), (600, 0)]), "diameter_mm": 100.0},
    {"pipe_id": "C1", "geometry": LineString([(200, 0), (200, 100)]), "diameter_mm": 50.0},
    {"pipe_id": "OLD", "geometry": LineString([(0, 9), (200, 9)]), "status": "abandoned"},
]
OTHERS: dict[str, Rows] = {
    "valves": [{"valve_id": "V1", "geometry": Point(250, 0), "state": "open"}],
    "zones": [{"zone_id": "MILL", "geometry": box(-50, -50, 700, 150)}],
    "connections": [{"connection_id": "K1", "geometry": Point(500, 8)}],
    "sources": [{"source_id": "S", "geometry": Point(0, 0)}],
}


def table_of(name: str, rows: Rows) -> Any:
    """A checked table of these rows."""
    table = TABLES[name]
    frame: Any = pd.DataFrame(rows, columns=list(table.names()))
    if table.geometry is not None:
        frame = gpd.GeoDataFrame(frame, geometry="geometry", crs=CRS)
    tidy, findings = check(table, frame, source=name)
    assert findings == ()
    return tidy


def layer_of(rows: Rows | None = None) -> Any:
    """The pipes, their length as drawn."""
    pipes = table_of("pipes", PIPES if rows is None else rows)
    return pipes.assign(length_m=pipes["length_m"].fillna(pipes.geometry.length))


@cache
def network() -> Network:
    """The network of the street, A1 cut by its valve."""
    return network_of(layer_of())


def network_of(pipes: Any) -> Network:
    """The network of other pipes with the same devices."""
    tables = {name: table_of(name, OTHERS.get(name, [])) for name in TABLES if name != "pipes"}
    inputs = Inputs(pipes=pipes, **tables, defaults=pd.DataFrame())
    return build_network(inputs, settings=Settings())


def isolation() -> Isolation:
    """Who is dry: 100 people if trunk and first part of A1 are shut, 40 beyond the valve."""
    cut = network().pipes
    beyond = (cut["layer_pipe_id"] == "B1") | (
        (cut["layer_pipe_id"] == "A1") & (cut["length_m"] > 100)
    )
    segment = pd.Series("T1", index=cut.index).mask(beyond, "B1")
    pipes = empty(SEGMENT_PIPES).reindex(range(len(cut)))
    pipes = pipes.assign(pipe_id=cut.index, segment_id=segment.to_numpy())
    losses = pd.DataFrame(
        {
            "segment_id": ["T1", "B1"],
            "dry_properties_count": [50, 20],
            "dry_people_count": [100.0, 40.0],
            "dry_people_count_low": [60.0, 24.0],
            "dry_people_count_high": [140.0, 56.0],
            "dry_critical_count": [1, 0],
        }
    ).reindex(columns=list(SEGMENT_LOSSES.names()))
    return Isolation(segment_pipes=pipes, segment_losses=losses)


def likelihood(**flow: float) -> pd.DataFrame:
    """LIKELIHOOD of the street: 1 L/s looked for, three tenths of it on A1, half on B1."""
    shares = {"A1": 0.3, "B1": 0.5, "C1": 0.2}
    rows = []
    for part, row in network().pipes.sort_index().iterrows():
        layer = row["layer_pipe_id"]
        whole = network().pipes.loc[network().pipes["layer_pipe_id"] == layer, "length_m"].sum()
        share = shares.get(layer, 0.0) * row["length_m"] / whole
        rows.append(
            {
                "pipe_id": part,
                "cell_id": row["cell_id"],
                "length_m": row["length_m"],
                "probability_share": share,
                "probability_share_low": 0.5 * share,
                "probability_share_high": 1.5 * share,
                "flow_l_s": 1.0,
                "flow_l_s_low": 0.6,
                "flow_l_s_high": 1.4,
                **flow,
            }
        )
    return pd.DataFrame(rows).reindex(columns=list(LIKELIHOOD.names()))


def zone_pressure(**more: Any) -> pd.DataFrame:
    """ZONE_PRESSURE of the one zone: 50 m in the mean, 40 to 60, as much by night."""
    row = {
        "cell_id": CELL,
        "pressure_m": 50.0,
        "pressure_m_low": 40.0,
        "pressure_m_high": 60.0,
        "night_pressure_m": 50.0,
        "exponent_index": 1.0,
        "rests_on": "logger",
    }
    return pd.DataFrame([row | more]).reindex(columns=list(ZONE_PRESSURE.names()))
