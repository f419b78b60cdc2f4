"""Records of the field: searches, correlations and reports from the public."""

from __future__ import annotations

import geopandas as gpd
import numpy as np
import pandas as pd
from shapely.geometry import Point

from district.simulate.clock import Clock
from district.simulate.customers import Customers
from district.simulate.devices import Devices
from district.simulate.field_story import CORRELATED, SEARCHES, SIGHTS, Heard
from district.simulate.layout import Layout
from district.simulate.sound import at_places, least_way, travel_s
from district.simulate.true_model import TrueModel

_NEAREST_M, _FARTHEST_M = 12.0, 160.0
"""How far along the pipes from a leak the two sensors of a correlation may sit."""


def surveys_table(
    clock: Clock, layout: Layout, devices: Devices, leaks: gpd.GeoDataFrame
) -> pd.DataFrame:
    """Table `SURVEYS`: the searches within the record, one row a pipe."""
    rows = []
    for search in SEARCHES:
        if not _within(clock, search.date):
            continue
        centre = _place(search.near_id, devices, leaks)
        found = leaks["pipe_id"].get(search.found_id, "")
        pipes = layout.pipes[layout.pipes["zone_id"] == search.zone_id]
        for pipe in pipes.loc[pipes.distance(centre) < search.radius_m, "pipe_id"]:
            here = pipe == found
            note = search.note if here or not found else ""
            rows.append((search.date, pipe, search.method, here, note))
    return pd.DataFrame(rows, columns=["date", "pipe_id", "method", "found", "note"])


def sightings_table(
    clock: Clock, customers: Customers, devices: Devices, leaks: gpd.GeoDataFrame
) -> pd.DataFrame:
    """Table `SIGHTINGS`: the reports within the record."""
    rows = []
    connections = customers.connections.set_index("connection_id").geometry
    for sight in SIGHTS:
        if not _within(clock, sight.time):
            continue
        away = connections.distance(_place(sight.near_id, devices, leaks))
        nearest = away[away >= sight.off_m].idxmin()
        rows.append((sight.time.replace("T", " "), nearest, sight.what, sight.note))
    return pd.DataFrame(rows, columns=["time", "place_id", "what", "note"])


def correlations_table(
    clock: Clock,
    layout: Layout,
    true: TrueModel,
    devices: Devices,
    rng: np.random.Generator,
) -> pd.DataFrame:
    """Table `CORRELATIONS`: the delay the true path and speeds give, and its error."""
    delay_s = travel_s(layout, true, rng)
    rows = []
    for heard in CORRELATED:
        found = _heard(heard, true, devices, delay_s, rng) if _within(clock, heard.date) else None
        if found:
            rows.append((heard.date, *found, heard.spread_ms, heard.note))
    columns = ["date", "first_id", "other_id", "delay_ms", "length_m", "spread_ms", "note"]
    return pd.DataFrame(rows, columns=columns)


def _heard(
    heard: Heard, true: TrueModel, devices: Devices, delay_s: np.ndarray, rng: np.random.Generator
) -> tuple[str, str, float, float] | None:
    """Ids of the sensors, delay in ms, length between them: the nearest valves on either side of
    the leak between which no shorter way leads past it; none if there are no such."""
    node = true.node(heard.leak_id)
    length = true.model.length_m
    valves = devices.valves[devices.valves["kind"] == "isolation"].reset_index(drop=True)
    sides = []
    for link in np.flatnonzero((true.model.start == node) | (true.model.end == node)):
        ways = at_places(true, length, least_way(true, length, node, without=int(link)), valves)
        usable = np.flatnonzero((ways >= _NEAREST_M) & (ways <= _FARTHEST_M))
        sides.append([(ways[v], int(v)) for v in usable])
    pairs = sorted(
        (way + other_way, first, other)
        for way, first in sides[0]
        for other_way, other in sides[1]
        if first != other
    )
    for between, first, other in pairs:
        piece, along = true.piece(valves["pipe_id"][first], valves["share"][first])
        direct = min(
            at_places(true, length, least_way(true, length, int(end)), valves.iloc[[other]])[0]
            + off * length[piece]
            for end, off in (
                (true.model.start[piece], along),
                (true.model.end[piece], 1.0 - along),
            )
        )
        if direct >= between - 0.01:
            late = at_places(true, delay_s, least_way(true, delay_s, node), valves)
            delay_ms = 1000 * (late[first] - late[other]) + rng.normal(0, heard.spread_ms / 1.96)
            names = valves["valve_id"]
            return names[first], names[other], round(float(delay_ms), 1), round(float(between), 1)
    return None


def _place(name: str, devices: Devices, leaks: gpd.GeoDataFrame) -> Point:
    at = leaks.geometry if name in leaks.index else devices.sensors.set_index("sensor_id").geometry
    return at[name]


def _within(clock: Clock, time: str) -> bool:
    return bool(clock.local[0] <= pd.Timestamp(time) <= clock.local[-1])
