"""Service connections, the buildings among them, and the meters at their ends."""

from __future__ import annotations

from dataclasses import dataclass

import geopandas as gpd
import numpy as np
import pandas as pd
import shapely
from shapely.geometry import Point

from district.simulate.layout import Layout, ground_m
from district.simulate.scenario import ZONES, Scenario
from district.simulate.story import BUILDINGS, CRITICAL, LEAK_CABLES, PLANT_ROOMS, WAYS

UNMETERED_SHARE = 0.03


@dataclass(frozen=True, eq=False)
class Customers:
    """The layer `inputs.CONNECTIONS`, customer and building meters, alarm sensors.

    Connections also carry, hidden: zone_id, pipe_id, share (how far along that pipe); building
    meters: building_id.
    """

    connections: gpd.GeoDataFrame
    meters: gpd.GeoDataFrame
    sensors: gpd.GeoDataFrame


def place_customers(layout: Layout, scenario: Scenario, rng: np.random.Generator) -> Customers:
    """Connections beside the mains of their zone, the shared ones thinned by the scenario."""
    tree = shapely.STRtree(layout.pipes.geometry.to_numpy())
    rows: list[dict[str, object]] = []
    for zone in ZONES:
        beside = _Beside(layout, tree, zone.zone_id, rng)
        for use, count in (
            ("household", zone.households),
            ("commercial", zone.commercial),
            ("farm", zone.farms),
        ):
            kept = max(1, round(count * scenario.customers_share)) if count else 0
            for _ in range(kept):
                rows.append(
                    {"use_class": use, "properties": _properties(use, rng)} | beside.place(5, 15)
                )
        for building, way in BUILDINGS.get(zone.zone_id, ()):
            rows.append(
                {"use_class": "campus", "properties": 1, "building_id": building, "way": way}
                | beside.place(8, 15)
            )
    frame = gpd.GeoDataFrame(rows, geometry="geometry", crs=layout.pipes.crs)
    frame.insert(0, "connection_id", [f"S{n:04d}" for n in range(1, len(frame) + 1)])
    campus = frame["use_class"] == "campus"
    frame["critical"] = frame["building_id"].isin(CRITICAL)
    frame["private_pipe_m"] = np.round(rng.gamma(2.0, 2.0, len(frame)).clip(0, 12), 1)
    frame["elevation_m"] = np.round(ground_m(frame.geometry), 1)
    metered = campus | (rng.random(len(frame)) > UNMETERED_SHARE)
    number = campus.where(campus, metered).groupby(campus).cumsum()
    frame["meter_id"] = [
        (f"BM{n:02d}" if c else f"CM{n:04d}") if m else None
        for n, c, m in zip(number, campus, metered, strict=True)
    ]
    return Customers(frame, _meters(frame[metered]), _alarm_sensors(frame))


class _Beside:
    """Draws places beside a zone's streets, nearest to the very pipe they are drawn for."""

    def __init__(
        self, layout: Layout, tree: shapely.STRtree, zone_id: str, rng: np.random.Generator
    ) -> None:
        pipes = layout.pipes
        streets = ["trunk"] if zone_id == "T" else ["street", "spine"]
        self._own = pipes[(pipes["zone_id"] == zone_id) & pipes["part"].isin(streets)]
        lengths = self._own.geometry.length.to_numpy()
        self._chance = lengths / lengths.sum()
        self._tree, self._rng, self._zone_id = tree, rng, zone_id

    def place(self, near_m: float, far_m: float) -> dict[str, object]:
        while True:
            row = int(self._rng.choice(len(self._own), p=self._chance))
            pipe = self._own.iloc[row]
            share = float(self._rng.uniform(0.03, 0.97))
            at = pipe.geometry.interpolate(share, normalized=True)
            ahead = pipe.geometry.interpolate(min(1.0, share + 0.02), normalized=True)
            along = np.array([ahead.x - at.x, ahead.y - at.y])
            along /= np.hypot(*along)
            off = self._rng.uniform(near_m, far_m) * self._rng.choice([-1.0, 1.0])
            point = Point(at.x - along[1] * off, at.y + along[0] * off)
            if self._tree.nearest(point) == self._own.index[row]:
                break
        return {
            "zone_id": self._zone_id,
            "pipe_id": pipe["pipe_id"],
            "share": share,
            "geometry": point,
        }


def _properties(use: str, rng: np.random.Generator) -> int:
    if use == "household" and rng.random() < 0.05:
        return int(rng.integers(2, 7))
    return 1


def _meters(metered: gpd.GeoDataFrame) -> gpd.GeoDataFrame:
    campus = (metered["use_class"] == "campus").to_numpy()
    ways = metered["way"].map(lambda w: WAYS[w].peak_l_s if isinstance(w, str) else np.nan)
    coarse = (ways >= 0.12).to_numpy()
    frame = gpd.GeoDataFrame(
        {
            "meter_id": metered["meter_id"].to_numpy(),
            "role": np.where(campus, "building", "customer"),
            "kind": "register",
            "reading_unit": "m3",
            "register_digits": np.where(campus, 6.0, 5.0),
            "resolution_l": np.where(campus, np.where(coarse, 10.0, 1.0), 1000.0),
            "error_percent": np.where(campus, 2.0, 3.0),
            "building_id": metered["building_id"].to_numpy(),
            "geometry": metered.geometry.to_numpy(),
        },
        geometry="geometry",
        crs=metered.crs,
    )
    return frame.sort_values(["role", "meter_id"], ignore_index=True)


def _alarm_sensors(connections: gpd.GeoDataFrame) -> gpd.GeoDataFrame:
    at = connections.dropna(subset="building_id").set_index("building_id").geometry
    frame = pd.DataFrame(
        [
            {
                "sensor_id": sensor,
                "kind": kind,
                "building_id": building,
                "geometry": at[building],
            }
            for kind, fitted in (("wet_floor", PLANT_ROOMS), ("leak_cable", LEAK_CABLES))
            for sensor, building in fitted
        ]
    )
    return gpd.GeoDataFrame(frame, geometry="geometry", crs=connections.crs)
