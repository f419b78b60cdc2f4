"""What maps and open layers draw of a network."""

from __future__ import annotations

from district.network.model import Network
from district.results import Layers


def map_layers(network: Network) -> Layers:
    """Pipes, cells as the outlines of their zones together, devices, connections and sources."""
    bound = network.boundaries.set_index("meter_id")[["upstream_cell_id", "downstream_cell_id"]]
    zones = network.zones.assign(
        cell_id=network.zones["zone_id"].map(
            {z: c for c, zs in network.cells["zone_ids"].items() for z in zs}
        ),
    )
    shapes = zones.dropna(subset="cell_id").dissolve("cell_id", as_index=False)
    return Layers(
        pipes=network.pipes.assign(pipe_id=network.pipes.index).reset_index(drop=True),
        zones=shapes.assign(name=shapes["cell_id"].map(network.cells["name"])),
        valves=network.valves.reset_index(drop=True),
        meters=network.meters.join(bound)
        .fillna({"upstream_cell_id": "", "downstream_cell_id": ""})
        .reset_index(drop=True),
        sensors=network.sensors.reset_index(drop=True),
        connections=network.connections.reset_index(drop=True),
        sources=network.sources.reset_index(drop=True),
        repairs=network.repairs,
    )
