"""From checked layers to a `Network`: snap, split, nodes, cells, and what stands in which cell."""

from __future__ import annotations

from typing import Any

import geopandas as gpd
import numpy as np
import pandas as pd
import shapely

from district.errors import Finding
from district.network.cells import boundary_meters, cell_of_pipes, cell_table, name_cells
from district.network.model import Network
from district.network.snap import (
    AT_END_M,
    cut_line,
    end_points,
    joined,
    on_pipe,
    oriented,
    tees,
)
from district.results import Inputs
from district.schema.inputs import ZONE_METER_ROLES
from district.settings import Settings


def build_network(inputs: Inputs, *, settings: Settings) -> Network:
    """Build the network of the pipes in use.

    Ends within `settings.snap_tolerance_m` are joined; a pipe is split where another's end meets
    it and where a zone meter or a valve stands on it. Devices off every pipe are left out (the
    check says so). Findings: a meter or shut valve on a junction (which pipe it closes is not
    known), a meter with the same cell on both sides, a `downstream` that is on neither side,
    connections too far from any pipe. The inputs are not changed.
    """
    layer = oriented(inputs.pipes)
    zone_meters = inputs.meters[inputs.meters["role"].isin(ZONE_METER_ROLES)]
    devices = pd.concat(
        [_devices(zone_meters, "meter_id", True), _devices(inputs.valves, "valve_id", None)]
    ).sort_values("device_id", kind="stable", ignore_index=True)
    nodes, pipes, at_node = _split(layer, devices, tolerance_m=settings.snap_tolerance_m)
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
        valves=_placed(inputs.valves, "valve_id", pipes, settings.snap_tolerance_m),
        sensors=_placed(inputs.sensors, "sensor_id", pipes, settings.locate.connection_snap_m),
        sources=_placed(inputs.sources, "source_id", pipes, settings.locate.connection_snap_m),
        meters=_meters(inputs, pipes, connections, settings),
        zones=inputs.zones.set_index("zone_id", drop=False).rename_axis(None),
        findings=(*findings, *more, *far),
    )


def _devices(layer: gpd.GeoDataFrame, key: str, cuts: bool | None) -> pd.DataFrame:
    shut = layer["state"].eq("shut") if cuts is None else pd.Series(cuts, index=layer.index)
    frame = {"device_id": layer[key], "geometry": layer.geometry, "cuts": shut, "key": key}
    return pd.DataFrame(frame)


def _split(
    layer: gpd.GeoDataFrame, devices: pd.DataFrame, *, tolerance_m: float
) -> tuple[gpd.GeoDataFrame, gpd.GeoDataFrame, dict[int, int]]:
    """Nodes, parts of pipes, and the node at which each device (row of devices) stands."""
    lines = layer.geometry.to_numpy()
    lengths = shapely.length(lines)
    marks: list[list[tuple[float, int, int]]] = [[] for _ in lines]  # chainage, end or -1, device
    for line, along, end in tees(lines, tolerance_m=tolerance_m):
        marks[line].append((along, end, -1))
    points = gpd.GeoSeries(devices["geometry"].to_numpy(), crs=layer.crs)
    place, _, along_m = on_pipe(points, lines, reach_m=tolerance_m)
    at_end: dict[int, int] = {}
    for device, (line, along) in enumerate(zip(place, along_m, strict=True)):
        if line < 0:
            continue
        if along <= AT_END_M or along >= lengths[line] - AT_END_M:
            at_end[device] = 2 * int(line) + int(along > lengths[line] / 2)
        else:
            marks[line].append((float(along), -1, device))
    parts: list[Any] = []
    names: list[str] = []
    origin: list[int] = []
    ends: list[tuple[int, int]] = []
    # Keys of nodes before joining: ends of the layer's pipes, then one for each inner mark.
    extra = 2 * len(lines)
    spots = [*end_points(lines)]
    device_key: dict[int, int] = dict(at_end)
    tee_pairs: list[tuple[int, int]] = []
    for line, given in enumerate(marks):
        inner: list[tuple[float, int]] = []
        last_is_tee = False
        for along, end, device in sorted(given):
            # Two tees close together are one junction; a valve beside a tee is not part of it.
            alike = inner and (device < 0) == last_is_tee
            near_m = tolerance_m if device < 0 and alike else AT_END_M
            if inner and along - inner[-1][0] < near_m:
                key = inner[-1][1]
            else:
                key = extra
                extra += 1
                inner.append((along, key))
                spots.append(_spot(lines[line], along))
            last_is_tee = device < 0
            if device >= 0:
                device_key[device] = key
            else:
                tee_pairs.append((key, end))
        pieces = cut_line(lines[line], [a for a, _ in inner])
        keys = [2 * line, *(k for _, k in inner), 2 * line + 1]
        pipe_id = str(layer.index[line])
        for n, piece in enumerate(pieces):
            parts.append(piece)
            names.append(pipe_id if len(pieces) == 1 else f"{pipe_id}/{n + 1}")
            origin.append(line)
            ends.append((keys[n], keys[n + 1]))
    # Ends of pipes join by nearness, tees with the end that makes them; a device keeps a node of
    # its own, or a valve a foot from a junction would close the junction.
    group = joined(end_points(lines), tolerance_m=tolerance_m, links=tee_pairs, count=len(spots))
    used = np.asarray(ends, dtype=np.intp).reshape(-1, 2)
    numbers, renumbered = np.unique(group[used], return_inverse=True)
    renumbered = renumbered.reshape(-1, 2)
    first_key = {int(g): k for k, g in reversed(list(enumerate(group)))}
    where = np.array([spots[first_key[int(g)]] for g in numbers]).reshape(-1, 2)
    nodes = gpd.GeoDataFrame(
        {"cut": ""},
        index=[f"N{n + 1:05d}" for n in range(len(numbers))],
        geometry=gpd.points_from_xy(where[:, 0], where[:, 1]),
        crs=layer.crs,
    )
    own = layer.iloc[origin]
    drawn = shapely.length(np.array(parts, dtype=object))
    share = drawn / np.where(lengths[origin] > 0, lengths[origin], 1.0)
    pipes = gpd.GeoDataFrame(
        {
            "layer_pipe_id": own["pipe_id"].to_numpy(),
            "start_position": renumbered[:, 0],
            "end_position": renumbered[:, 1],
            # A stated laid length is shared over the parts as they are drawn.
            "length_m": own["length_m"].fillna(pd.Series(lengths, layer.index)).to_numpy() * share,
            **{
                c: own[c].to_numpy()
                for c in ("diameter_mm", "material", "installed_year", "roughness")
            },
        },
        index=names,
        geometry=parts,
        crs=layer.crs,
    )
    row_of = {int(g): n for n, g in enumerate(numbers)}
    return nodes, pipes, {d: row_of[int(group[k])] for d, k in device_key.items()}


def _spot(line: Any, along: float) -> np.ndarray[Any, Any]:
    point = line.interpolate(along)
    return np.array([point.x, point.y])


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
        elif cut[node] and key == "meter_id":
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
                f"connection {', '.join(lost[:5])}" + (" ..." if len(lost) > 5 else ""),
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
    return placed
