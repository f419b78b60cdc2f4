"""Buildings: which meters and sensors belong together."""

from __future__ import annotations

from district.network import Network


def meter_buildings(network: Network) -> dict[str, str]:
    """Building of each meter, as the connections say: meter_id -> building_id."""
    known = network.connections[["meter_id", "building_id"]].fillna("")
    known = known[(known["meter_id"] != "") & (known["building_id"] != "")]
    return dict(zip(known["meter_id"], known["building_id"], strict=True))


def sensor_buildings(network: Network) -> dict[str, str]:
    """Building of each sensor that has one: sensor_id -> building_id."""
    if "building_id" not in network.sensors:
        return {}
    known = network.sensors["building_id"].dropna()
    return {str(s): str(b) for s, b in known[known != ""].items()}
