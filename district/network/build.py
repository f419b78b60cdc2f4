"""From checked layers to a `Network`: snap, split, nodes, cells, and what stands in which cell."""

from __future__ import annotations

from typing import Any

import geopandas as gpd
import numpy as np
import pandas as pd

from district.errors import Finding
from district.network.bores import pipe_bores_mm
from district.network.cells import boundary_meters, cell_of_pipes, cell_table, name_cells
from district.network.model import Network
from district.network.repairs import oddities, repairs_table
from district.network.snap import AT_END_M, on_pipe, oriented
from district.network.split import split
from district.network.tidy import tidied
from district.results import Inputs
from district.schema.inputs import ZONE_METER_ROLES
from district.settings import Settings
from district.words import places


def build_network(inputs: Inputs, *, settings: Settings) -> Network:
    """Build the network of the pipes in use.

    Ends within `settings.snap_tolerance_m` are joined; a pipe is split where another's end meets
    it and where a zone meter or a valve stands on it. Devices off every pipe are left out (the
    check says so). Findings: a meter or shut valve on a junction (which pipe it closes is not
    known), two meters at one point, a meter with the same cell on both sides, a `downstream` that
    is on neither side, connections too far from any pipe. Whatever of the drawing was mended, or
    kept though it may be a slip, stands in `repairs`. The inputs are not changed.
    """
    tolerance_m = settings.snap_tolerance_m
    layer, left_out = tidied(oriented(inputs.pipes), tolerance_m=tolerance_m)
    zone_meters = inputs.meters[inputs.meters["role"].isin(ZONE_METER_ROLES)]
    devices = pd.concat(
        [_devices(zone_meters, "meter_id", True), _devices(inputs.valves, "valve_id", None)]
    ).sort_values("device_id", kind="stable", ignore_index=True)
    nodes, pipes, at_node, mended = split(layer, devices, tolerance_m=tolerance_m)
    kept = oddities(layer, nodes, pipes, tolerance_m=tolerance_m)
    pipes = pipes.drop(columns="line")
    nodes, findings = _cuts(nodes, pipes, devices, at_node, inputs.files)
    pipes = pipes.assign(cell=cell_of_pipes(pipes, nodes))
    cells = name_cells(pipes, inputs.zones, _source_pipes(inputs, pipes, settings))
    pipes["cell_id"] = pipes.pop("cell").map(cells["cell_id"])
    boundaries, more = boundary_meters(nodes, pipes, zone_meters, cells, inputs.files)
    connections, far = _connections(inputs, pipes, settings)
    table = cell_table(cells, pipes, connections, inputs.zones)
    return Network(
        nodes=nodes,
        pipes=pipes,
        cells=table,
        boundaries=boundaries,
        connections=connections,
        valves=_placed(inputs.valves, "valve_id", pipes, tolerance_m),
        sensors=_placed(inputs.sensors, "sensor_id", pipes, settings.locate.connection_snap_m),
        sources=_placed(inputs.sources, "source_id", pipes, settings.locate.connection_snap_m),
        meters=_meters(inputs, pipes, connections, settings),
        zones=inputs.zones.set_index("zone_id", drop=False).rename_axis(None),
        repairs=repairs_table([*left_out, *mended, *kept], inputs.pipes.crs),
        findings=(*findings, *more, *far),
    )


def _devices(layer: gpd.GeoDataFrame, key: str, cuts: bool | None) -> pd.DataFrame:
    shut = layer["state"].eq("shut") if cuts is None else pd.Series(cuts, index=layer.index)
    frame = {"device_id": layer[key], "geometry": layer.geometry, "cuts": shut, "key": key}
    return pd.DataFrame(frame)


def _cuts(
    nodes: gpd.GeoDataFrame,
    pipes: gpd.GeoDataFrame,
    devices: pd.DataFrame,
    at_node: dict[int, int],
    files: dict[str, str],
) -> tuple[gpd.GeoDataFrame, list[Finding]]:
    ends = np.concatenate([pipes["start_position"], pipes["end_position"]]).astype(np.intp)
    degree = np.bincount(ends, minlength=len(nodes))
    cut = nodes["cut"].astype(object).to_numpy().copy()
    findings = []
    meter_at: dict[int, str] = {}
    for device, node in at_node.items():
        if not devices.at[device, "cuts"]:
            continue
        name, key = devices.at[device, "device_id"], devices.at[device, "key"]
        table = "meters" if key == "meter_id" else "valves"
        kind = "zone meter" if key == "meter_id" else "shut valve"
        if degree[node] > 2:
            findings.append(
                Finding(
                    "error",
                    files.get(table, table),
                    f"{kind} {name}",
                    "geometry",
                    got=f"a point on a junction of {degree[node]} pipes",
                    expected="a point on one pipe, so that it is known which one it closes",
                    remedy=f"Move it along its pipe, at least {AT_END_M:g} m from the junction",
                )
            )
        elif key == "meter_id" and node in meter_at:
            findings.append(
                Finding(
                    "error",
                    files.get(table, table),
                    f"{kind} {name}",
                    "geometry",
                    got=f"the point at which meter {meter_at[node]} stands",
                    expected="a point of its own, as only one meter can part the pipe there",
                    remedy="Draw each meter on the pipe it measures, or remove the one that is "
                    "no longer read",
                )
            )
        elif key == "meter_id":
            meter_at[node] = name
            cut[node] = name  # A shut valve at a meter: the meter is what can be read.
        elif not cut[node]:
            cut[node] = name
    return nodes.assign(cut=cut), findings


def _source_pipes(inputs: Inputs, pipes: gpd.GeoDataFrame, settings: Settings) -> pd.Series[Any]:
    place, _, _ = on_pipe(
        inputs.sources.geometry,
        pipes.geometry.to_numpy(),
        reach_m=settings.locate.connection_snap_m,
    )
    on = place >= 0
    return pd.Series(pipes.index.to_numpy()[place[on]], index=inputs.sources["source_id"][on])


def _placed(
    layer: gpd.GeoDataFrame, key: str, pipes: gpd.GeoDataFrame, reach_m: float
) -> gpd.GeoDataFrame:
    """The layer indexed by its id, with the pipe and cell nearest to each point ('' if none)."""
    place, _, _ = on_pipe(layer.geometry, pipes.geometry.to_numpy(), reach_m=reach_m)
    names = np.append(pipes.index.to_numpy(), "")
    cells = np.append(pipes["cell_id"].to_numpy(), "")
    return (
        layer.assign(pipe_id=names[place], cell_id=cells[place])
        .set_index(key, drop=False)
        .rename_axis(None)
        .sort_index()
    )


def _connections(
    inputs: Inputs, pipes: gpd.GeoDataFrame, settings: Settings
) -> tuple[gpd.GeoDataFrame, list[Finding]]:
    reach_m = settings.locate.connection_snap_m
    placed = _placed(inputs.connections, "connection_id", pipes, reach_m)
    for column in ("meter_id", "building_id"):
        placed[column] = placed[column].fillna("")
    lost = placed.index[placed["pipe_id"] == ""]
    findings = []
    if len(lost):
        findings.append(
            Finding(
                "warning",
                inputs.files.get("connections", "connections"),
                places("connection", lost),
                "geometry",
                got=f"{len(lost)} farther than {reach_m:g} m from every pipe in use",
                expected="each within reach of the main that serves it",
                remedy="Correct the points, add the missing main, or raise "
                "locate.connection_snap_m in district.toml",
            )
        )
    return placed, findings


def _meters(
    inputs: Inputs,
    pipes: gpd.GeoDataFrame,
    connections: gpd.GeoDataFrame,
    settings: Settings,
) -> gpd.GeoDataFrame:
    placed = _placed(inputs.meters, "meter_id", pipes, settings.locate.connection_snap_m)
    named = connections[connections["meter_id"] != ""].drop_duplicates("meter_id")
    by_connection = named.set_index("meter_id")["cell_id"].to_dict()
    own = pd.Series(
        [by_connection.get(m, cell) for m, cell in placed["cell_id"].items()],
        index=placed.index,
        dtype=object,
    )
    placed["cell_id"] = own.where(~placed["role"].isin(ZONE_METER_ROLES), "")
    placed["pipe_bore_mm"] = pipe_bores_mm(inputs).reindex(placed.index).astype(float)
    return placed
