"""What is to be made dry: whole pipes, or a point on one, as the segments it lies in."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass

import geopandas as gpd
import numpy as np
import shapely
from shapely.geometry import Point

from district.errors import Finding, InputError
from district.hydraulics.model import Flags, Wholes
from district.isolate.segments import Segments
from district.network import Network
from district.settings import Settings
from district.words import brief, closest, listed

_AT_VALVE_M = 0.5
"""A break nearer than this to a valve may be the valve itself: both sides of it are shut off."""


@dataclass(frozen=True, eq=False)
class Target:
    """The segments to make dry (S), and what was asked for, in words."""

    wanted: Flags
    said: str


def pipes_target(
    network: Network,
    segments: Segments,
    pipe_ids: Iterable[str],
    *,
    files: Mapping[str, str] | None = None,
) -> Target:
    """Whole pipes: ids of the layer, or of their parts ('P12/2').

    Raises `InputError` with a finding for each id that is no pipe in use, and where there is none.
    """
    names = [str(p) for p in pipe_ids]
    rows, findings = [], []
    for name in names:
        found = _rows_of(network, name)
        rows.append(found)
        if not len(found):
            findings.append(_unknown(network, name, files))
    if findings:
        raise InputError(findings)
    if not names:
        raise InputError([_refused(files, "", "", "no pipe", "one pipe or more", "Name a pipe")])
    noun = "pipe" if len(set(names)) == 1 else "pipes"
    return Target(_wanted(segments, np.concatenate(rows)), f"{noun} {listed(names)}")


def distance_target(
    network: Network,
    segments: Segments,
    pipe_id: str,
    *,
    from_west_m: float,
    files: Mapping[str, str] | None = None,
) -> Target:
    """A point so many metres along a pipe as drawn, from its western (then southern) end.

    `pipe_id` is of the layer, or of a part of it, from whose own end it is then. Raises
    `InputError` where there is no such pipe in use, or it is not so long.
    """
    rows = _rows_of(network, str(pipe_id))
    if not len(rows):
        raise InputError([_unknown(network, str(pipe_id), files)])
    lengths_m = shapely.length(network.pipes.geometry.to_numpy()[rows])
    whole_m = float(lengths_m.sum())
    if not 0.0 <= from_west_m <= whole_m:
        raise InputError(
            [
                _refused(
                    files,
                    f"pipe {pipe_id}",
                    "geometry",
                    f"{from_west_m:g} m along it",
                    f"0 to {brief(whole_m)} m, its length as drawn",
                    "Measure from its western end",
                )
            ]
        )
    begins_m = np.concatenate([[0.0], np.cumsum(lengths_m)])
    at = min(int(np.searchsorted(begins_m, from_west_m, side="right")) - 1, len(rows) - 1)
    line = network.pipes.geometry.to_numpy()[rows[at]]
    point = shapely.line_interpolate_point(line, from_west_m - begins_m[at])
    said = f"a point {brief(from_west_m)} m along pipe {pipe_id} from its western end"
    return _at(network, segments, point, int(rows[at]), said)


def point_target(
    network: Network,
    segments: Segments,
    *,
    x_m: float,
    y_m: float,
    settings: Settings,
    place: str = "",
    files: Mapping[str, str] | None = None,
) -> Target:
    """The point of the pipes nearest to a coordinate, in the metres of `network.pipes.crs`.

    `place` is how people know it, the coordinate itself where they know it by no other. Raises
    `InputError` where no pipe in use lies within `settings.locate.connection_snap_m`.
    """
    reach_m = settings.locate.connection_snap_m
    lines = network.pipes.geometry.to_numpy()
    given, known_as = Point(x_m, y_m), place or f"{x_m:.1f}, {y_m:.1f}"
    found, away_m = shapely.STRtree(lines).query_nearest(
        given, max_distance=reach_m, return_distance=True
    )
    if not len(found):
        raise InputError(
            [
                _refused(
                    files,
                    "",
                    "geometry",
                    f"a point at {known_as}",
                    f"a point within {reach_m:g} m of a pipe in use",
                    "Check the coordinates and their reference system",
                )
            ]
        )
    row = int(found.min())
    point = shapely.line_interpolate_point(lines[row], shapely.line_locate_point(lines[row], given))
    name = network.pipes["layer_pipe_id"].iloc[row]
    said = f"the point of pipe {name} nearest to {known_as} ({brief(away_m[0])} m away)"
    return _at(network, segments, point, row, said)


def _at(network: Network, segments: Segments, point: Point, row: int, said: str) -> Target:
    """The segment of a pipe, and that beyond a valve which the point as good as lies on."""
    pipes = network.pipes
    rows = [row]
    at_node = shapely.dwithin(network.nodes.geometry.to_numpy(), point, _AT_VALVE_M)
    nodes = np.flatnonzero(at_node)
    start, end = pipes["start_position"].to_numpy(), pipes["end_position"].to_numpy()
    nodes = nodes[np.isin(nodes, [start[row], end[row]])]
    rows += np.flatnonzero(np.isin(start, nodes) | np.isin(end, nodes)).tolist()
    wanted = _wanted(segments, np.array(rows, dtype=np.int64))
    if wanted.sum() > 1:
        said += ", at a valve: both sides of it"
    return Target(wanted, said)


def _wanted(segments: Segments, rows: Wholes) -> Flags:
    wanted = np.zeros(segments.graph.segments_count, dtype=bool)
    wanted[segments.graph.pipe_segment[rows]] = True
    return wanted


def _rows_of(network: Network, name: str) -> Wholes:
    """Rows of the parts of a pipe, from its western end on."""
    pipes: gpd.GeoDataFrame = network.pipes
    by_layer = np.flatnonzero((pipes["layer_pipe_id"].astype(str) == name).to_numpy())
    if len(by_layer):
        return by_layer
    return np.flatnonzero(pipes.index.astype(str) == name)


def _unknown(network: Network, name: str, files: Mapping[str, str] | None) -> Finding:
    known = network.pipes["layer_pipe_id"].astype(str).unique()
    return _refused(
        files,
        f"pipe {name}",
        "pipe_id",
        f'"{name}"{closest(name, known)}',
        "the id of a pipe in use",
        "Correct the id",
    )


def _refused(
    files: Mapping[str, str] | None, place: str, column: str, got: str, expected: str, remedy: str
) -> Finding:
    source = (files or {}).get("pipes", "pipes")
    return Finding("error", source, place, column, got, expected, remedy)
