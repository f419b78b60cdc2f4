"""The pipes as a graph with metered cells."""

from district.network.build import build_network
from district.network.cells import connected_parts, zone_of_points
from district.network.layers import map_layers
from district.network.model import Network
from district.network.tanks import edges_with_tanks, tanks_of

__all__ = [
    "Network",
    "build_network",
    "connected_parts",
    "edges_with_tanks",
    "map_layers",
    "tanks_of",
    "zone_of_points",
]
