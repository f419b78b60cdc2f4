"""A stretch of pipe shut off, or the whole map judged by its valves: from the layers alone.

Between the pipeline's folder and the rooms it calls; readings are not needed, and not waited for.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path

import geopandas as gpd
import pandas as pd
from shapely.geometry import Point

from district import isolate
from district.errors import Finding, InputError, StageError
from district.network import Network
from district.opening import Mapped, Say, open_map, silent
from district.results import Events, Isolation, Location
from district.schema.columns import empty
from district.schema.entry_forms import not_closing
from district.schema.isolate_tables import CASCADE, LEAK_SEGMENTS
from district.settings import Settings
from district.words import closest, listed, missing, natural, percent

_GIVEN = "EPSG:4326"


@dataclass(frozen=True, eq=False)
class IsolationPlan:
    """What to shut for one target, and the pressure that leaves.

    pressure
        None where no model of the network can be drawn; `pressure_missing` says why.
    cascade
        table CASCADE where the target is a connection, else without rows.
    leak_segments
        table LEAK_SEGMENTS where the target is a leak looked for, else without rows.
    """

    mapped: Mapped
    target: str
    plan: isolate.Plan
    pressure: isolate.PressureLeft | None
    pressure_missing: str
    cascade: pd.DataFrame = field(default_factory=lambda: empty(CASCADE))
    leak_segments: pd.DataFrame = field(default_factory=lambda: empty(LEAK_SEGMENTS))


def plan_folder(
    folder: Path,
    *,
    pipes: Sequence[str] = (),
    from_west_m: float | None = None,
    at: tuple[float, float] | None = None,
    connection: str = "",
    building: str = "",
    stuck: Sequence[str] = (),
    say: Say = silent,
) -> IsolationPlan:
    """The plan for some `pipes`, for a point `from_west_m` along one, for a place, or for the pipe
    that a `connection` or the highest connection of a `building` hangs on.

    `at` longitude and latitude in degrees (WGS 84). Besides those named in `stuck`, valves that a
    crew found not to close are taken as not closing. Raises `InputError`, also where the target is
    not one of these.
    """
    asked = [bool(pipes), at is not None, bool(connection), bool(building)]
    if sum(asked) != 1 or (from_west_m is not None and len(pipes) != 1):
        raise InputError([unclear()])
    mapped = open_map(folder, say=say)
    say("looking for valves")
    network, settings, files = mapped.network, mapped.settings, mapped.inputs.files
    found = isolate.segments_of(network, settings=settings)
    if building:
        connection = isolate.connections_of(network, building, files=files)[0]
    if connection:
        return connection_plan(mapped, found, connection, stuck=stuck, say=say)
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
    return planned(mapped, found, target, stuck=stuck, say=say)


def planned(
    mapped: Mapped,
    segments: isolate.Segments,
    target: isolate.Target,
    *,
    stuck: Sequence[str] = (),
    say: Say = silent,
) -> IsolationPlan:
    """The plan for one target, with the pressure it leaves where that can be told; valves that a
    crew found not to close are left out. Raises `InputError`."""
    stuck = natural({*stuck, *_known_stuck(mapped)})
    plan = isolate.plan_shut_off(mapped.network, segments, target, stuck=stuck)
    say("working out the pressure that is left")
    try:
        pressure = isolate.pressure_left(mapped.network, plan, settings=mapped.settings)
    except StageError as reason:
        return IsolationPlan(mapped, target.said, plan, None, " ".join(reason.lines()))
    return IsolationPlan(mapped, target.said, plan, pressure, "")


def connection_plan(
    mapped: Mapped,
    segments: isolate.Segments,
    connection_id: str,
    *,
    stuck: Sequence[str] = (),
    say: Say = silent,
) -> IsolationPlan:
    """The plan for the point at which a connection leaves its pipe, and whom a leak there reaches.
    Raises `InputError` for one that is not on the map, or on no pipe."""
    network, files = mapped.network, mapped.inputs.files
    reached = isolate.cascade(network, segments, connection_id, files=files)
    where = network.connections.loc[connection_id].geometry
    target = isolate.point_target(
        network,
        segments,
        x_m=where.x,
        y_m=where.y,
        settings=mapped.settings,
        place=f"connection {connection_id}",
    )
    found = planned(mapped, segments, target, stuck=stuck, say=say)
    return replace(found, cascade=reached)


def event_plan(
    mapped: Mapped,
    segments: isolate.Segments,
    events: Events,
    location: Location,
    sought_id: str,
    *,
    stuck: Sequence[str] = (),
    say: Say = silent,
) -> IsolationPlan:
    """The plan for the segment in which a leak most likely lies, and the others that it may; for
    an event of a building's meter, that for its connection.

    Raises `InputError` where no leak of this id is looked for.
    """
    rows = events.events[events.events["event_id"] == sought_id]
    if len(rows) and rows["place_kind"].iloc[0] == "building":
        taps = mapped.network.connections
        behind = taps.index[taps["meter_id"] == rows["place_id"].iloc[0]]
        if len(behind):
            return connection_plan(mapped, segments, str(behind[0]), stuck=stuck, say=say)
    found = isolate.leak_segments(
        mapped.network,
        segments,
        location.likelihood,
        location.stretches,
        sought_id=sought_id,
        stuck=natural({*stuck, *_known_stuck(mapped)}),
    )
    if found.empty:
        raise InputError([not_sought(sought_id, location.search_sets["sought_id"])])
    first = found.iloc[0]
    parts = segments.pipes.loc[segments.pipes["segment_id"] == first["segment_id"], "pipe_id"]
    target = isolate.pipes_target(mapped.network, segments, parts)
    said = (
        f"the segment of pipe {first['segment_id']} (the leak of {sought_id} is there with "
        f"{percent(first['probability_share'], decimals=0)})"
    )
    plan = planned(mapped, segments, replace(target, said=said), stuck=stuck, say=say)
    return replace(plan, leak_segments=found)


def valves_folder(folder: Path, *, say: Say = silent) -> Isolation:
    """Which segments and valves matter most, and where one more valve helps; no valve counts that
    a crew found not to close. Raises `InputError`."""
    mapped = open_map(folder, say=say)
    say("looking at every valve")
    return valves_of(mapped.network, mapped.inputs.entries, settings=mapped.settings)


def valves_of(network: Network, entries: pd.DataFrame, *, settings: Settings) -> Isolation:
    """The same of a network, and table ENTRIES of what crews brought back."""
    network = isolate.without_stuck(network, not_closing(entries)["place_id"])
    found = isolate.segments_of(network, settings=settings)
    return Isolation(
        found.table,
        found.pipes,
        isolate.segment_losses(found),
        isolate.valve_losses(found),
        isolate.new_valves(network, found),
        tuple(found.findings),
    )


def _known_stuck(mapped: Mapped) -> set[str]:
    """Valves of the map that the latest entry of a crew says do not close."""
    told = set(not_closing(mapped.inputs.entries)["place_id"])
    return told & {str(v) for v in mapped.network.valves.index}


def _in_metres(at: tuple[float, float], network: Network) -> Point:
    given = gpd.GeoSeries([Point(at)], crs=_GIVEN).to_crs(network.pipes.crs)
    return given.iloc[0]


def unclear() -> Finding:
    """No target was asked for, or several."""
    return Finding(
        "error",
        "command line",
        "",
        "",
        "no target, or more than one",
        "pipes (--pipe), one pipe and a distance (--pipe and --metres), a place (--at), a "
        "connection (--connection), a building (--building) or an event (--event)",
        "Name one of them",
    )


def not_sought(sought_id: str, known_ids: Iterable[object]) -> Finding:
    """No leak of this id is looked for; `known_ids` are those that are."""
    known = list(dict.fromkeys(str(i) for i in known_ids if not missing(i)))
    return Finding(
        "error",
        "command line",
        f"event {sought_id}",
        "",
        f'"{sought_id}"{closest(sought_id, known)}',
        f"one of those looked for: {listed(known, shown=12)}" if known else "an event looked for",
        "Run 'district locate' for what is looked for",
    )
