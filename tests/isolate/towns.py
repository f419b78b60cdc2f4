"""Small towns drawn for the tests of shutting off, built as any map is."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

import geopandas as gpd
import pandas as pd
from shapely.geometry import LineString, Point

from district.isolate import Segments, segments_of
from district.network import Network, build_network
from district.results import Inputs
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
from district.settings import Settings
from tests.network.conftest import layer

XY = tuple[float, float]

STREETS: dict[str, Sequence[XY]] = {
    "P1": [(0, 0), (100, 0)],
    "P2": [(100, 0), (200, 0)],
    "P3": [(200, 0), (300, 0)],
    "P4": [(100, 0), (100, 100)],
    "P5": [(100, 100), (200, 100)],
    "P6": [(200, 0), (200, 100)],
    "P7": [(300, 0), (400, 0)],
}
#   S --P1-- + --P2-- + --P3-- + --P7--
#            P4       P6
#            + --P5-- +
VALVES_THERE: dict[str, XY] = {
    "V1": (90, 0),
    "V2": (110, 0),
    "V4": (100, 10),
    "V3": (210, 0),
    "V5": (190, 100),
    "V7": (310, 0),
}
HOUSES: dict[str, tuple[XY, int]] = {
    "H1": ((50, 5), 1),
    "H2": ((150, 5), 2),
    "H3": ((250, 5), 4),
    "H5": ((150, 105), 8),
    "H6": ((205, 50), 16),
    "H7": ((350, 5), 32),
}


def town(
    pipes: Mapping[str, Sequence[XY]] = STREETS,
    valves: Mapping[str, XY] = VALVES_THERE,
    *,
    sources: Mapping[str, XY] | None = None,
    houses: Mapping[str, tuple[XY, int]] = HOUSES,
    of_valves: Mapping[str, Mapping[str, Any]] | None = None,
    of_houses: Mapping[str, Mapping[str, Any]] | None = None,
    of_pipes: Mapping[str, Mapping[str, Any]] | None = None,
    meters: Mapping[str, XY] | None = None,
    tanks: Mapping[str, XY] | None = None,
) -> Network:
    """Pipes by id, valves, sources, houses (where, properties), zone meters and tanks by place.

    `of_...` give other columns by id."""
    feeds = {"S": (0.0, 0.0)} if sources is None else sources
    inputs = Inputs(
        pipes=layer(
            PIPES,
            pipe_id=list(pipes),
            geometry=[LineString(line) for line in pipes.values()],
            **_columns(pipes, of_pipes, {"diameter_mm": 100.0}),
        ),
        valves=layer(
            VALVES,
            valve_id=list(valves),
            geometry=[Point(xy) for xy in valves.values()],
            **_columns(valves, of_valves, {"state": "open", "kind": "isolation"}),
        )
        if valves
        else _nothing(VALVES),
        meters=layer(
            METERS,
            meter_id=list(meters),
            geometry=[Point(xy) for xy in meters.values()],
            role=["transfer"] * len(meters),
        )
        if meters
        else _nothing(METERS),
        zones=_nothing(ZONES),
        connections=layer(
            CONNECTIONS,
            connection_id=list(houses),
            geometry=[Point(xy) for xy, _ in houses.values()],
            properties=[count for _, count in houses.values()],
            **_columns(houses, of_houses, {}),
        )
        if houses
        else _nothing(CONNECTIONS),
        sensors=layer(
            SENSORS,
            sensor_id=list(tanks),
            geometry=[Point(xy) for xy in tanks.values()],
            kind=["tank_level"] * len(tanks),
        )
        if tanks
        else _nothing(SENSORS),
        sources=layer(SOURCES, source_id=list(feeds), geometry=[Point(xy) for xy in feeds.values()])
        if feeds
        else _nothing(SOURCES),
        works=empty(WORKS),
        breaks=empty(BREAKS),
        defaults=pd.DataFrame(columns=["table", "column", "rows_count", "value"]),
    )
    return build_network(inputs, settings=Settings())


def cut(network: Network) -> Segments:
    """Its segments."""
    return segments_of(network, settings=Settings())


def _columns(
    names: Mapping[str, Any],
    given: Mapping[str, Mapping[str, Any]] | None,
    usual: Mapping[str, Any],
) -> dict[str, list[Any]]:
    given = given or {}
    columns = {*usual, *(c for one in given.values() for c in one)}
    return {c: [given.get(n, {}).get(c, usual.get(c)) for n in names] for c in sorted(columns)}


def _nothing(table: Any) -> Any:
    return gpd.GeoDataFrame(empty(table), geometry="geometry", crs=32630)
