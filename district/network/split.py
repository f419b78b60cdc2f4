"""Lines to parts and nodes: split pipes at tees and devices, and join ends that lie together."""

from __future__ import annotations

from typing import Any

import geopandas as gpd
import numpy as np
import numpy.typing as npt
import pandas as pd
import shapely

from district.network.repairs import repair_rows
from district.network.snap import AT_END_M, Floats, end_points, joined, on_pipe, tees
from district.network.touches import own_tees

TOLD_M = 0.001
"""Ends nearer than this are the same point as far as any drawing goes."""
_SAME_M = 1e-9
_CARRIED = ("diameter_mm", "material", "installed_year", "roughness")
Positions = npt.NDArray[np.intp]


def split(
    layer: gpd.GeoDataFrame, devices: pd.DataFrame, *, tolerance_m: float
) -> tuple[gpd.GeoDataFrame, gpd.GeoDataFrame, dict[int, int], list[pd.DataFrame]]:
    """Nodes, parts of pipes, the node at which each device stands, and what was done.

    `layer` is oriented and tidied, `devices` has device_id and geometry. Parts carry `line`, the
    position in `layer` they were cut from. What was done are rows of table REPAIRS.
    """
    lines = layer.geometry.to_numpy()
    lengths = shapely.length(lines)
    met = sorted([*tees(lines, tolerance_m=tolerance_m), *own_tees(lines, tolerance_m=tolerance_m)])
    points = gpd.GeoSeries(devices["geometry"].to_numpy(), crs=layer.crs)
    place, gap_m, along_m = on_pipe(points, lines, reach_m=tolerance_m)
    on = np.flatnonzero(place >= 0)
    from_end_m = np.minimum(along_m[on], lengths[place[on]] - along_m[on])
    inside = on[from_end_m > AT_END_M]
    # Keys of nodes before joining: ends of the layer's pipes, then one for each inner mark.
    device_key = {
        int(d): 2 * int(place[d]) + int(along_m[d] > lengths[place[d]] / 2)
        for d in on[from_end_m <= AT_END_M]
    }
    given = [(line, along, end, -1) for line, along, end in met if 0.0 < along < lengths[line]]
    given += [(int(place[d]), float(along_m[d]), -1, int(d)) for d in inside]
    mark_line, mark_along_m, key_of_device, links = _marked(given, 2 * len(lines), tolerance_m)
    device_key |= key_of_device
    # An end beside the very end of another pipe belongs to that end: no sliver is cut off.
    links += [
        (2 * line + int(along > 0.0), end)
        for line, along, end in met
        if not 0.0 < along < lengths[line]
    ]
    ends_at = end_points(lines)
    inner = shapely.line_interpolate_point(lines[mark_line], mark_along_m)
    spots = np.vstack([ends_at, shapely.get_coordinates(inner).reshape(-1, 2)])
    pieces, origin, start, end = cut_lines(lines, mark_line, mark_along_m)
    # Ends of pipes join by nearness, tees with the end that makes them; a device keeps a node of
    # its own, or a valve a foot from a junction would close the junction.
    group = joined(ends_at, tolerance_m=tolerance_m, links=links, count=len(spots))
    used = np.column_stack([start, end])
    numbers, renumbered = np.unique(group[used], return_inverse=True)
    first_key = np.unique(group, return_index=True)[1]
    where = spots[first_key[numbers]].reshape(-1, 2)
    nodes = gpd.GeoDataFrame(
        {"cut": ""},
        index=[f"N{n + 1:05d}" for n in range(len(numbers))],
        geometry=gpd.points_from_xy(where[:, 0], where[:, 1]),
        crs=layer.crs,
    )
    pipes = _parts(layer, pieces, origin, renumbered.reshape(-1, 2))
    row_of = np.zeros(len(group), dtype=np.intp)
    row_of[numbers] = np.arange(len(numbers))
    names = layer.index.to_numpy()
    told = [
        _snapped(names, ends_at, first_key[group[: len(ends_at)]]),
        _teed(names, ends_at, lines, [m for m in met if 0.0 < m[1] < lengths[m[0]]]),
        repair_rows(
            "split_at_device",
            pipe_id=names[place[inside]],
            other_id=devices["device_id"].to_numpy()[inside],
            distance_m=gap_m[inside],
            where=shapely.line_interpolate_point(lines[place[inside]], along_m[inside]),
        ),
    ]
    return nodes, pipes, {d: int(row_of[group[k]]) for d, k in device_key.items()}, told


def _marked(
    given: list[tuple[int, float, int, int]], first_key: int, tolerance_m: float
) -> tuple[Positions, Floats, dict[int, int], list[tuple[int, int]]]:
    """Line and chainage of each place to split at, each device's key, (key, end) of each tee.

    `given` holds line, chainage, and the end that makes a tee or the device, the other being -1.
    """
    line_of: list[int] = []
    along_of: list[float] = []
    device_key: dict[int, int] = {}
    links: list[tuple[int, int]] = []
    last_is_tee = False
    for line, along, end, device in sorted(given):
        # Two tees close together are one junction; a valve beside a tee is not part of it.
        near_m = tolerance_m if device < 0 and last_is_tee else AT_END_M
        if not line_of or line_of[-1] != line or along - along_of[-1] >= near_m:
            line_of.append(line)
            along_of.append(along)
        last_is_tee = device < 0
        key = first_key + len(line_of) - 1
        if device >= 0:
            device_key[device] = key
        else:
            links.append((key, end))
    return np.array(line_of, dtype=np.intp), np.array(along_of, dtype=float), device_key, links


def cut_lines(
    lines: Any, mark_line: Positions, mark_along_m: Floats
) -> tuple[Any, Positions, Positions, Positions]:
    """All lines cut at their marks: pieces, the line of each, and keys of its two ends.

    Marks are in order of line and chainage and lie inside their lines. Keys are 2 * line and
    2 * line + 1 for a line's own ends, then one for each mark.
    """
    count = np.bincount(mark_line, minlength=len(lines)) + 1
    origin = np.repeat(np.arange(len(lines)), count)
    first = np.cumsum(count) - count
    number = np.arange(len(origin)) - first[origin]
    # Of the marks in order, so many lie before the start of this piece.
    before = 2 * len(lines) + np.arange(len(origin)) - origin
    start = np.where(number == 0, 2 * origin, before - 1)
    end = np.where(number == count[origin] - 1, 2 * origin + 1, before)
    pieces = np.asarray(lines, dtype=object)[origin]
    cut = np.flatnonzero(count > 1)
    if len(cut):
        rank = np.searchsorted(cut, mark_line)
        pieces[count[origin] > 1] = _cut(lines[cut], rank, mark_along_m)
    return pieces, origin, start, end


def _cut(lines: Any, mark_line: Positions, mark_along_m: Floats) -> Any:
    """The pieces of lines that all have marks."""
    corners, owner = shapely.get_coordinates(lines, return_index=True)
    step = np.hypot(*np.diff(corners, axis=0, prepend=corners[:1]).T)
    travelled = np.cumsum(step)
    first = np.searchsorted(owner, np.arange(len(lines)))
    along = travelled - travelled[first][owner]
    inner = np.ones(len(corners), dtype=bool)
    inner[first] = inner[np.append(first[1:], len(corners)) - 1] = False
    marks = shapely.get_coordinates(shapely.line_interpolate_point(lines[mark_line], mark_along_m))
    # Corners and marks of each line in order; a mark ends one piece and begins the next.
    where = np.vstack([corners, marks])
    line = np.concatenate([owner, mark_line])
    chain = np.concatenate([along, mark_along_m])
    # The ends stay the ends, whatever rounding makes of their chainage.
    chain[: len(corners)][first] = -np.inf
    chain[np.append(first[1:], len(corners)) - 1] = np.inf
    is_mark = np.arange(len(where)) >= len(corners)
    order = np.lexsort([is_mark, chain, line])
    where, line, chain, is_mark = where[order], line[order], chain[order], is_mark[order]
    # A corner at a mark would stand there twice.
    twice = np.zeros(len(order), dtype=bool)
    close = (np.abs(np.diff(chain)) < _SAME_M) & (line[1:] == line[:-1])
    twice[:-1] |= close & ~is_mark[:-1] & is_mark[1:]
    twice[1:] |= close & is_mark[:-1] & ~is_mark[1:]
    where, line, is_mark = where[~twice], line[~twice], is_mark[~twice]
    copies = np.where(is_mark, 2, 1)
    at = np.repeat(np.arange(len(where)), copies)
    begins = np.zeros(len(at), dtype=np.intp)
    begins[(np.cumsum(copies) - 1)[is_mark]] = 1
    piece = line[at] + np.cumsum(begins)
    return shapely.linestrings(where[at], indices=piece)


def _parts(
    layer: gpd.GeoDataFrame, pieces: Any, origin: Positions, ends: Positions
) -> gpd.GeoDataFrame:
    lengths = shapely.length(layer.geometry.to_numpy())
    own = layer.iloc[origin]
    share = shapely.length(pieces) / lengths[origin]
    number = np.arange(len(origin)) - np.searchsorted(origin, origin)
    several = np.bincount(origin, minlength=len(layer))[origin] > 1
    taken = {str(name) for name in layer.index}
    names = [
        _part_name(str(name), int(n) + 1, taken) if cut else str(name)
        for name, n, cut in zip(own.index, number, several, strict=True)
    ]
    return gpd.GeoDataFrame(
        {
            "layer_pipe_id": own["pipe_id"].to_numpy(),
            "start_position": ends[:, 0],
            "end_position": ends[:, 1],
            # A stated laid length is shared over the parts as they are drawn.
            "length_m": own["length_m"].fillna(pd.Series(lengths, layer.index)).to_numpy() * share,
            **{c: own[c].to_numpy() for c in _CARRIED},
            "line": origin,
        },
        index=names,
        geometry=pieces,
        crs=layer.crs,
    )


def _part_name(name: str, number: int, taken: set[str]) -> str:
    """'P3/1', or with more slashes where the drawing has a pipe of that name; added to `taken`."""
    slashes = "/"
    while (part := f"{name}{slashes}{number}") in taken:
        slashes += "/"
    taken.add(part)
    return part


def _snapped(names: Any, ends_at: Floats, owner: Positions) -> pd.DataFrame:
    """Ends that were drawn apart from the end whose place their node has."""
    gap_m = np.hypot(*(ends_at - ends_at[owner]).T)
    end = np.flatnonzero(gap_m > TOLD_M)
    return repair_rows(
        "snapped_end",
        pipe_id=names[end // 2],
        other_id=names[owner[end] // 2],
        distance_m=gap_m[end],
        where=shapely.points(ends_at[end]),
    )


def _teed(
    names: Any, ends_at: Floats, lines: Any, met: list[tuple[int, float, int]]
) -> pd.DataFrame:
    """Ends on the inside of a pipe, which is split there."""
    line = np.array([m[0] for m in met], dtype=np.intp)
    end = np.array([m[2] for m in met], dtype=np.intp)
    where = shapely.points(ends_at[end])
    foot = shapely.line_interpolate_point(lines[line], np.array([m[1] for m in met], dtype=float))
    return repair_rows(
        "tee",
        pipe_id=names[end // 2],
        other_id=names[line],
        distance_m=shapely.distance(where, foot),
        where=where,
    )
