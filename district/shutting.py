"""A stretch of pipe shut off, or the whole map judged by its valves: from the layers alone.

Between the pipeline's folder and the rooms it calls; readings are not needed, and not waited for.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

import geopandas as gpd
import pandas as pd
from shapely.geometry import Point

from district import isolate
from district.errors import Finding, InputError, StageError
from district.network import Network
from district.opening import Mapped, Say, open_map, silent

_GIVEN = "EPSG:4326"


@dataclass(frozen=True, eq=False)
class IsolationPlan:
    """What to shut for one target, and the pressure that leaves.

    pressure
        None where no model of the network can be drawn; `pressure_missing` says why.
    """

    mapped: Mapped
    target: str
    plan: isolate.Plan
    pressure: isolate.PressureLeft | None
    pressure_missing: str


@dataclass(frozen=True, eq=False)
class Valves:
    """How a map is parted by its valves: SEGMENTS, SEGMENT_LOSSES, VALVE_LOSSES, NEW_VALVES."""

    mapped: Mapped
    segments: pd.DataFrame
    segment_losses: pd.DataFrame
    valve_losses: pd.DataFrame
    new_valves: gpd.GeoDataFrame
    findings: tuple[Finding, ...]


def plan_folder(
    folder: Path,
    *,
    pipes: Sequence[str] = (),
    from_west_m: float | None = None,
    at: tuple[float, float] | None = None,
    stuck: Sequence[str] = (),
    say: Say = silent,
) -> IsolationPlan:
    """The plan for some `pipes`, for a point `from_west_m` along one, or for a place.

    `at` longitude and latitude in degrees (WGS 84). Raises `InputError`, also where the target is
    not one of these.
    """
    asked = [bool(pipes), at is not None]
    if sum(asked) != 1 or (from_west_m is not None and len(pipes) != 1):
        raise InputError([_unclear()])
    mapped = open_map(folder, say=say)
    say("looking for valves")
    network, settings = mapped.network, mapped.settings
    found = isolate.segments_of(network, settings=settings)
    if at is not None:
        where = _in_metres(at, network)
        place = "longitude {:g}, latitude {:g}".format(*at)
        target = isolate.point_target(
            network, found, x_m=where.x, y_m=where.y, settings=settings, place=place
        )
    elif from_west_m is not None:
        target = isolate.distance_target(network, found, pipes[0], from_west_m=from_west_m)
    else:
        target = isolate.pipes_target(network, found, pipes)
    plan = isolate.plan_shut_off(network, found, target, stuck=stuck)
    say("working out the pressure that is left")
    try:
        pressure, missing = isolate.pressure_left(network, plan, settings=settings), ""
    except StageError as reason:
        pressure, missing = None, " ".join(reason.lines())
    return IsolationPlan(mapped, target.said, plan, pressure, missing)


def valves_folder(folder: Path, *, say: Say = silent) -> Valves:
    """Which segments and valves matter most, and where one more valve helps. Raises
    `InputError`."""
    mapped = open_map(folder, say=say)
    say("looking at every valve")
    found = isolate.segments_of(mapped.network, settings=mapped.settings)
    return Valves(
        mapped,
        found.table,
        isolate.segment_losses(found),
        isolate.valve_losses(found),
        isolate.new_valves(mapped.network, found),
        tuple(found.findings),
    )


def _in_metres(at: tuple[float, float], network: Network) -> Point:
    given = gpd.GeoSeries([Point(at)], crs=_GIVEN).to_crs(network.pipes.crs)
    return given.iloc[0]


def _unclear() -> Finding:
    return Finding(
        "error",
        "command line",
        "",
        "",
        "no target, or more than one",
        "pipes (--pipe), one pipe and a distance (--pipe and --metres), or a place (--at)",
        "Name one of them",
    )
