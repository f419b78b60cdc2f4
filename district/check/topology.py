"""The pipes as drawn: what is joined to a source, what nearly meets, what stands on no pipe."""

from __future__ import annotations

import geopandas as gpd
import numpy as np
import pandas as pd
import shapely

from district.check.edges import edge_crossings
from district.check.near_misses import near_misses
from district.check.repairs import repair_notes
from district.check.tanks import tank_places
from district.check.wording import EACH, file_of
from district.check.zones import check_zones
from district.errors import Finding, Severity, worst_first
from district.network import Network, connected_parts
from district.results import Inputs
from district.schema.inputs import ZONE_METER_ROLES
from district.settings import Settings
from district.words import brief, listed, natural, natural_key, places, plural

_ASTRAY_M = 20_000.0
"""No tolerance reaches so far: the layer lies elsewhere on the earth than the pipes."""
_ASTRAY = "Correct the coordinate reference system of the file, or the order of its coordinates"


def check_network(network: Network, inputs: Inputs, *, settings: Settings) -> tuple[Finding, ...]:
    """Every defect of the drawing and of the zones that the built network shows, worst first.

    `network` is built from `inputs`; neither is changed. What the building itself found
    (`network.findings`) is not repeated. Raises nothing.
    """
    found = [
        *_devices_off_pipes(network, inputs, settings),
        *_sources(network, inputs, settings),
        *_parts(network, inputs),
        *tank_places(network, inputs, settings=settings),
        *near_misses(network, inputs, tolerance_m=settings.snap_tolerance_m),
        *repair_notes(network, inputs, tolerance_m=settings.snap_tolerance_m),
        *edge_crossings(network, inputs),
        *check_zones(network, inputs),
    ]
    return worst_first(f for f in found if f not in network.findings)


def pipes_with_source(network: Network) -> pd.Series:
    """Whether each pipe is joined to a source, through meters and shut valves too."""
    part = connected_parts(network.pipes, network.nodes)
    fed = network.pipes.index.isin(network.sources["pipe_id"])
    return pd.Series(np.isin(part, part[fed]), index=network.pipes.index)


def _devices_off_pipes(network: Network, inputs: Inputs, settings: Settings) -> list[Finding]:
    zone_meters = inputs.meters[inputs.meters["role"].isin(ZONE_METER_ROLES)]
    # A valve that shuts a building stands on its service pipe, which the map need not show.
    shuts_building = inputs.valves["kind"] == "automatic_shutoff"
    return [
        *_off_pipes(network, zone_meters, "meter", "error", inputs, settings),
        *_off_pipes(network, inputs.valves[~shuts_building], "valve", "warning", inputs, settings),
    ]


def _off_pipes(
    network: Network,
    devices: gpd.GeoDataFrame,
    noun: str,
    severity: Severity,
    inputs: Inputs,
    settings: Settings,
) -> list[Finding]:
    if devices.empty or network.pipes.empty:
        return []
    points = shapely.force_2d(devices.geometry.to_numpy())
    tree = shapely.STRtree(network.pipes.geometry.to_numpy())
    (row, pipe), gap_m = tree.query_nearest(points, return_distance=True)
    near = pd.DataFrame({"row": row, "gap_m": gap_m})
    near["pipe_id"] = network.pipes["layer_pipe_id"].to_numpy()[pipe]
    near = near[near["gap_m"] > settings.snap_tolerance_m]
    near["device_id"] = devices[f"{noun}_id"].to_numpy()[near["row"]]
    near = near.sort_values(["gap_m", "pipe_id"]).drop_duplicates("device_id")
    off = {str(r.device_id): r for r in near.itertuples()}
    source, pipes = file_of(inputs, f"{noun}s"), file_of(inputs, "pipes")
    expected = f"a point within {settings.snap_tolerance_m:g} m of a pipe in use of {pipes}"
    remedy = "Move it onto its pipe, or raise snap_tolerance_m in district.toml"
    if severity == "warning":
        remedy += f"; until then the {noun} is left out"
    ordered = natural(off)
    found = [
        Finding(
            severity,
            source,
            f"{noun} {name}",
            "geometry",
            got=f"a point {_far(off[name].gap_m)} from the nearest pipe, {off[name].pipe_id}",
            expected=expected,
            remedy=_ASTRAY if off[name].gap_m > _ASTRAY_M else remedy,
        )
        for name in ordered[:EACH]
    ]
    rest = ordered[EACH:]
    if rest:
        found.append(
            Finding(
                severity,
                source,
                places(noun, rest),
                "geometry",
                got=f"{len(rest)} more points on no pipe",
                expected=expected,
                remedy="Move them onto their pipes",
            )
        )
    return found


def _far(gap_m: float) -> str:
    return f"{gap_m:.1f} m" if gap_m < 1000 else f"{brief(gap_m / 1000)} km"


def _sources(network: Network, inputs: Inputs, settings: Settings) -> list[Finding]:
    source = file_of(inputs, "sources")
    reach_m = settings.locate.connection_snap_m
    sources = network.sources
    off = natural(sources.index[sources["pipe_id"] == ""])
    severity: Severity = "error" if len(off) == len(sources) else "warning"
    if sources.empty:
        return [
            Finding(
                "error",
                source,
                got="no source",
                expected="at least one point where water enters the network",
                remedy="Add the reservoirs, wells and bulk supplies",
            )
        ]
    return [
        Finding(
            severity,
            source,
            f"source {name}",
            "geometry",
            got=f"a point farther than {reach_m:g} m from every pipe in use",
            expected="a point on the pipe it feeds",
            remedy="Move it onto its pipe, or add the missing main",
        )
        for name in off
    ]


def _parts(network: Network, inputs: Inputs) -> list[Finding]:
    pipes = network.pipes
    fed = pipes_with_source(network)
    if pipes.empty or not fed.any():
        return []  # Without any source on a pipe, the finding about the sources says it all.
    part = connected_parts(network.pipes, network.nodes)
    km = pd.Series(pipes["length_m"].to_numpy() / 1000.0).groupby(part).sum()
    dry = pd.DataFrame(
        {
            "part": part,
            "pipe_id": pipes["layer_pipe_id"].to_numpy(),
            "cell_id": pipes["cell_id"].to_numpy(),
        }
    )[~fed.to_numpy()]
    groups = {p: (natural(g["pipe_id"]), natural(g["cell_id"])) for p, g in dry.groupby("part")}
    order = sorted(groups, key=lambda p: (-round(km[p], 6), natural_key(groups[p][0][0])))
    source = file_of(inputs, "pipes")
    expected = "every pipe in use joined to a source, if only through meters and shut valves"
    remedy = (
        "Join it to the network on the map, add its source, or set status to abandoned "
        "if it carries no water"
    )
    found = [
        Finding(
            "error" if km[p] >= km.max() else "warning",
            source,
            places("pipe", groups[p][0]),
            got=f"a part of {plural(len(groups[p][0]), 'pipe')}, {km[p]:.2f} km "
            f"({places('area', groups[p][1])}), joined to no source",
            expected=expected,
            remedy=remedy,
        )
        for p in order[:EACH]
    ]
    rest = order[EACH:]
    if rest:
        found.append(
            Finding(
                "warning",
                source,
                f"pipes {listed([name for p in rest for name in groups[p][0]])}",
                got=f"{plural(len(rest), 'more part')}, {km[rest].sum():.2f} km, "
                "joined to no source",
                expected=expected,
                remedy="Join them to the network on the map, or set their status to abandoned",
            )
        )
    return found
