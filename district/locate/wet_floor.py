"""Water on a floor, on a leak cable or in a chamber: the leak may be on the main beside it.

Of a floor or cable in a building the leak may be on its connection as well.
"""

from __future__ import annotations

from typing import Any

import numpy as np
import pandas as pd
import shapely

from district.break_rates import Reals
from district.locate.scene import Scene, tempered, there_share, too_early
from district.locate.spots import Evidence
from district.network import Network
from district.words import plural

SEEPS_M = 25.0
"""How far water comes through the ground to a floor, on average. Common practice, no source."""
ONCE, LASTING = 0.5, 0.15
"""Chance that a floor that was wet once, or before the leak too, and one that was wet again or for
days, has nothing to do with the leak: rain, a spilt bucket, a heating pipe. Common practice, no
source."""
_HEADS = {
    "wet_floor": "Floor sensor",
    "leak_cable": "Leak cable",
    "chamber_float": "Chamber float",
}
_LASTS_D = 2.0
_NEAR_M = 100.0


def wet_floor_evidence(scene: Scene, alarms: pd.DataFrame) -> list[Evidence]:
    """What the alarm sensors of the zone say, one piece of evidence a sensor that was wet.

    `alarms`: table ALARMS. What began before the leak could have says nothing of it, and makes
    what came later weak: whatever wetted the floor then may have come back.
    """
    sensors, spots, own = scene.network.sensors, scene.spots, scene.own
    told = []
    for device_id, spells in alarms.groupby("device_id"):
        if device_id in sensors.index and sensors.at[device_id, "kind"] in _HEADS:
            points = _points(scene.network, str(device_id))
            metres = _apart_m(points, spots.x_m[own], spots.y_m[own])
            if metres.min() <= _NEAR_M:
                told.append(_one(scene, str(device_id), spells, metres))
    return told


def _points(network: Network, device_id: str) -> list[Any]:
    """The sensor, and the connections of the building it stands in."""
    sensor = network.sensors.loc[device_id]
    building = sensor["building_id"] if isinstance(sensor["building_id"], str) else ""
    owned = network.connections
    served = owned.geometry[(owned["building_id"] == building) & (building != "")]
    return [sensor.geometry, *served]


def _served(network: Network, device_id: str) -> str:
    return "the building's connection and " if len(_points(network, device_id)) > 1 else ""


def _apart_m(points: list[Any], x_m: Reals, y_m: Reals) -> Reals:
    spots = np.column_stack([x_m, y_m])
    places = shapely.get_coordinates(np.array(points, dtype=object))
    return np.asarray(np.min([np.hypot(*(spots - place).T) for place in places], axis=0))


def _one(scene: Scene, device_id: str, spells: pd.DataFrame, metres: Reals) -> Evidence:
    zone = scene.settings.zone_info()
    began = spells["start_utc"].dt.tz_convert(zone).dt.date
    ended = spells["end_utc"].dt.tz_convert(zone).dt.date
    there = np.array([there_share(scene, d) for d in began])
    late = there > 0
    kind = str(scene.network.sensors.at[device_id, "kind"])
    head = f"{_HEADS[kind]} {device_id}"
    if not late.any():
        return scene.unused("wet_floor", f"{head}, wet on {began.min()}: {too_early(scene)}")
    first, last, count = began[late].min(), ended[late].max(), int(late.sum())
    lasting = count > 1 or (last - first).days >= _LASTS_D
    weak = "" if lasting else ", weakly, as it was wet but once"
    if kind == "chamber_float":
        weak = ", weakly, as rain and ground water lift a float too"
    if not late.all():
        weak = ", weakly, as it was wet before the leak too"
    likely = tempered(
        -metres / SEEPS_M,
        wrong_share=ONCE if weak else LASTING,
        there_share=float(there.max()),
    )
    often = f"{plural(count, 'time')} " if count > 1 else ""
    when = f"{often}from {first} to {last}" if lasting else f"on {first}"
    said = (
        f"{head}, wet {when}: this speaks for {_served(scene.network, device_id)}the mains within "
        f"about {2 * SEEPS_M:.0f} m{weak}."
    )
    return scene.evidence("wet_floor", said, likely)
