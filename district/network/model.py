"""`Network`: the pipes as a graph, frozen, tables only."""

from __future__ import annotations

from dataclasses import dataclass, field

import geopandas as gpd
import networkx as nx
import pandas as pd

from district.errors import Finding
from district.results import no_repairs


@dataclass(frozen=True, eq=False)
class Network:
    """The network after snapping and splitting, in one metric CRS.

    nodes
        index node_id; geometry (Point); cut ('' or the meter_id / valve_id that separates the
        pipes meeting there).
    pipes
        index pipe_id (the layer's id, or 'P12/1', 'P12/2' where devices split it);
        layer_pipe_id, start_position, end_position (row numbers in nodes), cell_id, length_m,
        diameter_mm, material, installed_year (NaN if unknown), roughness, geometry.
    cells
        index cell_id: area bounded by zone meters and shut valves. A cell that carries one zone's
        label is called by its zone_id; zone_ids (tuple of the zones it carries), name,
        parent_cell_id ('' if none), has_source, mains_km, connections_count, properties_count,
        private_km, elevation_m (mean of connections, NaN if unknown).
    boundaries
        one row a zone meter: meter_id, upstream_cell_id, downstream_cell_id ('' where the side
        is not a cell), role, kind, error_percent. Positive flow goes downstream.
    connections
        index connection_id; pipe_id, cell_id, properties, use_class, critical, meter_id,
        building_id ('' if none), private_pipe_m, elevation_m, geometry.
    valves, sensors, sources
        as the layer, indexed by id, with pipe_id (or '') and cell_id (or '').
    meters
        the meters layer indexed by meter_id with cell_id ('' for zone meters) and pipe_bore_mm
        (diameter of the pipe a zone meter stands on; NaN where pipes differ or it is assumed).
    zones
        the zones layer indexed by zone_id.
    repairs
        table REPAIRS: what of the drawing was mended, and what was kept though it may be a slip.
    """

    nodes: gpd.GeoDataFrame
    pipes: gpd.GeoDataFrame
    cells: pd.DataFrame
    boundaries: pd.DataFrame
    connections: gpd.GeoDataFrame
    valves: gpd.GeoDataFrame
    sensors: gpd.GeoDataFrame
    sources: gpd.GeoDataFrame
    meters: gpd.GeoDataFrame
    zones: gpd.GeoDataFrame
    repairs: gpd.GeoDataFrame = field(default_factory=no_repairs)
    findings: tuple[Finding, ...] = ()

    def graph(self) -> nx.MultiGraph:
        """The pipes as edges (key pipe_id, length_m, cell_id) between node ids."""
        graph = nx.MultiGraph()
        graph.add_nodes_from(self.nodes.index)
        names = self.nodes.index.to_numpy()
        for pipe_id, row in self.pipes.iterrows():
            graph.add_edge(
                names[row["start_position"]],
                names[row["end_position"]],
                key=pipe_id,
                length_m=row["length_m"],
                cell_id=row["cell_id"],
            )
        return graph
