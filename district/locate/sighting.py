"""What the public reported: water shows near a leak, not at it, and some reports are of others."""

from __future__ import annotations

from typing import Any

import numpy as np
import pandas as pd
import shapely
from pyproj import Transformer

from district.locate.rates import Reals
from district.locate.scene import Scene, tempered, there_share, too_early
from district.locate.spots import Evidence
from district.locate.ways import device_points
from district.network import Network
from district.words import missing, moment, spelled

_SPREAD_M: dict[str, float] = {
    "running_water": 25.0,
    "wet_ground": 25.0,
    "noise": 15.0,
    "low_pressure": 200.0,
    "other": 60.0,
}
"""Mean distance from the leak to where it shows. Water surfaces away from the leak, most often
downhill, which is not known here. Common practice, no source."""
_UNRELATED = 0.2
"""Chance that a report has nothing to do with the leak: rain, a hydrant, a neighbour's tap. Common
practice, no source."""
_NEAR_SPREADS = 4.0
_WATER = ("running_water", "wet_ground")


def sighting_evidence(scene: Scene, sightings: pd.DataFrame) -> list[Evidence]:
    """What each report near the zone says, one piece of evidence a row.

    `sightings`: input table SIGHTINGS. Reports come as densely as exp(-d / spread) about the leak,
    and evenly over the zone where they are of something else.
    """
    if sightings.empty:
        return []
    points = device_points(scene.network)
    spots = shapely.points(scene.spots.x_m[scene.own], scene.spots.y_m[scene.own])
    zone = shapely.convex_hull(shapely.multipoints(spots))
    told = []
    for row in sightings.dropna(subset="time").itertuples(index=False):
        place = _place(scene.network, points, row)
        if place is not None:
            metres = shapely.distance(place, spots)
            if metres.min() <= _NEAR_SPREADS * _SPREAD_M[row.what]:
                told.append(_one(scene, row, metres, zone))
    return told


def _one(scene: Scene, row: Any, metres: Reals, zone: Any) -> Evidence:
    where = row.place_id
    if missing(where):
        where = f"{row.latitude_deg:.5f}, {row.longitude_deg:.5f}"
    what = "Something" if row.what == "other" else spelled(row.what).capitalize()
    when = moment(row.time, timezone=scene.settings.district.timezone)
    head = f"{what} reported at {where} on {when}"
    there = there_share(scene, row.time.tz_convert(scene.settings.zone_info()).date())
    if there == 0:
        return scene.unused("sighting", f"{head}: {too_early(scene)}")
    spread_m = _SPREAD_M[row.what]
    area_m2 = zone.buffer(2 * spread_m).area
    density = np.exp(-metres / spread_m) / (2 * np.pi * spread_m**2)
    likely = np.log((1 - _UNRELATED) * density + _UNRELATED / area_m2)
    likely = tempered(likely, wrong_share=0.0, there_share=there)
    why = ", as water shows away from its leak" if row.what in _WATER else ""
    said = f"{head}: this speaks for pipes within about {2 * spread_m:.0f} m{why}."
    return scene.evidence("sighting", said, likely)


def _place(network: Network, points: pd.Series[Any], row: Any) -> Any:
    """The geometry of the place reported: a pipe's line, a point, all points of a building."""
    if missing(row.place_id):
        if missing(row.longitude_deg) or missing(row.latitude_deg):
            return None
        turn = Transformer.from_crs(4326, network.pipes.crs, always_xy=True)
        return shapely.Point(turn.transform(row.longitude_deg, row.latitude_deg))
    name = str(row.place_id)
    pipes = network.pipes
    parts = pipes.geometry[pipes["layer_pipe_id"] == name]
    if len(parts):
        return shapely.union_all(parts.to_numpy())
    if name in points.index:
        return points[name]
    owned = network.connections
    served = owned.geometry[owned["building_id"] == name]
    return shapely.union_all(served.to_numpy()) if len(served) else None
