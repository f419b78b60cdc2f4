"""What was fitted later on: floats in valve chambers, valves that shut a building by themselves."""

from __future__ import annotations

import geopandas as gpd

from district.simulate.story import FLOATS, SHUT_OFF


def chamber_floats(
    valves: gpd.GeoDataFrame, pipes: gpd.GeoDataFrame, leaks: gpd.GeoDataFrame
) -> gpd.GeoDataFrame:
    """The floats of the story (layer `inputs.SENSORS`), each in a valve's chamber of its zone.

    Where the zone has a seeded leak it is the chamber nearest to the first, else that of the
    zone's first valve.
    """
    zone = valves["pipe_id"].map(pipes.set_index("pipe_id")["zone_id"])
    rows = []
    for sensor, zone_id in FLOATS:
        own = valves[(zone == zone_id) & (valves["kind"] == "isolation")]
        leaking = leaks[leaks["zone_id"] == zone_id]
        near = own.distance(leaking.geometry.iloc[0]).idxmin() if len(leaking) else own.index[0]
        rows.append({"sensor_id": sensor, "kind": "chamber_float", "geometry": own.geometry[near]})
    return gpd.GeoDataFrame(rows, geometry="geometry", crs=valves.crs)


def shut_off_valves(connections: gpd.GeoDataFrame) -> gpd.GeoDataFrame:
    """The valves that shut by themselves (layer `inputs.VALVES`), at their building."""
    at = connections.dropna(subset="building_id").set_index("building_id").geometry
    rows = [
        {
            "valve_id": valve,
            "kind": "automatic_shutoff",
            "state": "open",
            "operable": True,
            "building_id": building,
            "fail_position": position,
            "geometry": at[building],
        }
        for valve, building, position in SHUT_OFF
    ]
    return gpd.GeoDataFrame(rows, geometry="geometry", crs=connections.crs)
