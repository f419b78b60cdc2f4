"""Pipe ends that touch nothing but stop just short of another pipe."""

from __future__ import annotations

from heapq import heappop, heappush
from typing import Any

import numpy as np
import numpy.typing as npt
import pandas as pd
import shapely

from district.check.wording import file_of
from district.errors import Finding
from district.network import Network
from district.results import Inputs
from district.words import natural_key, places

REACH_M = 5.0
"""A gap up to this (or five snap tolerances, if that is more) is worth a look."""
_DETOUR = 4.0
"""A gap is no miss where the pipes already meet within this many times the reach."""
_SHOWN = 50


def near_misses(network: Network, inputs: Inputs, *, tolerance_m: float) -> list[Finding]:
    """One finding for each pair of pipes that nearly meet, with the gap.

    An end touches nothing when no other pipe shares its node in the built network. A stub that
    leaves the other pipe close by is no miss.
    """
    reach_m = max(REACH_M, 5.0 * tolerance_m)
    gaps = _gaps(network, reach_m)
    gaps = gaps[~_already_joined(network, gaps, _DETOUR * reach_m)]
    pairs: dict[tuple[str, str], float] = {}
    for end_of, other, gap_m in zip(gaps["pipe_id"], gaps["other_id"], gaps["gap_m"], strict=True):
        pairs[end_of, other] = min(gap_m, pairs.get((end_of, other), np.inf))
    for a, b in sorted(pairs, key=lambda pair: (natural_key(pair[0]), natural_key(pair[1]))):
        if (a, b) in pairs and (b, a) in pairs:  # Both ends are open: told once.
            pairs[a, b] = min(pairs[a, b], pairs.pop((b, a)))
    ordered = sorted(pairs, key=lambda pair: (natural_key(pair[0]), natural_key(pair[1])))
    source = file_of(inputs, "pipes")
    found = [
        Finding(
            "warning",
            source,
            f"pipe {pipe_id}",
            "geometry",
            got=f"an end that touches nothing, {pairs[pipe_id, other]:.1f} m from pipe {other}",
            expected=f"ends that meet within {tolerance_m:g} m, or a true dead end",
            remedy="Join the two on the map, unless the pipe really ends there",
        )
        for pipe_id, other in ordered[:_SHOWN]
    ]
    rest = ordered[_SHOWN:]
    if rest:
        found.append(
            Finding(
                "warning",
                source,
                places("pipe", [p for p, _ in rest]),
                "geometry",
                got=f"{len(rest)} more ends that touch nothing, within {reach_m:g} m of a pipe",
                expected=f"ends that meet within {tolerance_m:g} m, or a true dead end",
                remedy="Join them on the map, unless the pipes really end there",
            )
        )
    return found


def _gaps(network: Network, reach_m: float) -> pd.DataFrame:
    """node, pipe_id (layer's), other (position), other_id, gap_m: open ends near another pipe."""
    pipes = network.pipes
    ends = pipes[["start_position", "end_position"]].to_numpy(dtype=np.intp)
    degree = np.bincount(ends.ravel(), minlength=len(network.nodes))
    pipe, side = np.nonzero(degree[ends] == 1)
    lines = pipes.geometry.to_numpy()
    points = shapely.get_point(lines[pipe], np.where(side == 0, 0, -1))
    row, other = shapely.STRtree(lines).query(points, predicate="dwithin", distance=reach_m)
    names = pipes["layer_pipe_id"].to_numpy().astype(str)
    gaps = pd.DataFrame(
        {
            "node": ends[pipe[row], side[row]],
            "pipe_id": names[pipe[row]],
            "other": other,
            "other_id": names[other],
            "gap_m": shapely.distance(points[row], lines[other]),
        }
    )
    gaps = gaps[gaps["pipe_id"] != gaps["other_id"]]
    # By distance: the nearest other pipe is the one it was meant to meet.
    gaps = gaps.sort_values(["node", "gap_m", "other_id"], key=_rounded)
    return gaps.reset_index(drop=True)


def _rounded(column: pd.Series) -> pd.Series:
    return column.round(3) if column.name == "gap_m" else column


def _already_joined(network: Network, gaps: pd.DataFrame, limit_m: float) -> npt.NDArray[np.bool_]:
    """Whether the gap's two pipes meet within `limit_m` of pipe, or a nearer gap was kept."""
    links = _links(network)
    ends = network.pipes[["start_position", "end_position"]].to_numpy(dtype=np.intp)
    answer: list[bool] = []
    near: set[int] = set()
    last, kept = -1, False
    for node, other in zip(gaps["node"], gaps["other"], strict=True):
        if node != last:
            last, kept, near = node, False, _within(links, int(node), limit_m)
        joined = bool(near & {int(e) for e in ends[other]})
        answer.append(joined or kept)
        kept = kept or not joined
    return np.array(answer, dtype=bool)


def _links(network: Network) -> Any:
    """The pipes from each node: where a node's begin, where they lead, how long they are."""
    ends = network.pipes[["start_position", "end_position"]].to_numpy(dtype=np.intp)
    size = len(network.nodes)
    position = np.arange(len(ends))
    both = np.concatenate([ends, ends[:, ::-1]])
    order = np.argsort(both[:, 0], kind="stable")
    first = np.searchsorted(both[order, 0], np.arange(size + 1))
    lengths = network.pipes["length_m"].to_numpy()[np.concatenate([position, position])[order]]
    return first, both[order, 1], lengths


def _within(links: Any, node: int, limit_m: float) -> set[int]:
    """The nodes within `limit_m` of pipe of a node."""
    first, to, length_m = links
    best = {node: 0.0}
    heap = [(0.0, node)]
    while heap:
        far, here = heappop(heap)
        if far > best[here]:
            continue
        for k in range(first[here], first[here + 1]):
            there, distance = int(to[k]), far + float(length_m[k])
            if distance <= limit_m and distance < best.get(there, np.inf):
                best[there] = distance
                heappush(heap, (distance, there))
    return set(best)
