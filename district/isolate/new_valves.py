"""Where one more valve would help most: segments parted in two, the best place first."""

from __future__ import annotations

import heapq
from dataclasses import dataclass, replace
from typing import Any

import geopandas as gpd
import numpy as np
from shapely.geometry import Point

from district.hydraulics.model import Flags, Reals, Wholes
from district.isolate.graph import SegmentGraph, closure, graph_of, pieces
from district.isolate.hanging import dry_alone, hanging_of
from district.isolate.piping import OUTSIDE, Piping
from district.isolate.segments import Segments
from district.isolate.splitting import Inside, Split, best_split
from district.isolate.weights import LENGTH, PROPERTIES, summed
from district.network import Network
from district.schema.isolate_tables import NEW_VALVES
from district.words import brief, listed, natural, percent, whole


@dataclass(frozen=True, eq=False)
class _Scene:
    """The piping with the valves advised so far, and what lies in its segments."""

    piping: Piping
    graph: SegmentGraph
    length_m: Reals
    own: Reals
    pipe_m: Reals
    pipe_own: Reals


def new_valves(network: Network, segments: Segments, *, most_count: int = 5) -> gpd.GeoDataFrame:
    """Table NEW_VALVES: the best places for `most_count` more valves, each on top of the others.

    A break is as likely on any metre of the pipes that are fed. What a place is judged by is the
    properties then without water in the mean. A valve can stand at either end of any pipe; it
    helps where the segment falls apart in two there. The best one is taken first, then the best
    one with that in place (greedily: pairs that help only together are not looked for). No
    segment can spare more than all that its shut-off takes, so that most are never looked into.
    """
    pipe_own = segments.pipe_weight[:, PROPERTIES] + summed(
        segments.tap_pipe, segments.tap_weight[:, [PROPERTIES]], len(network.pipes)
    )[:, 0]  # fmt: skip
    pipe_m = segments.pipe_weight[:, LENGTH]
    scene = _scene(segments.piping, pipe_m, pipe_own)
    fed_m = float(scene.length_m[scene.graph.fed].sum())
    lost = _all_lost(scene)
    most = scene.length_m * lost
    before = float(most.sum()) / fed_m if fed_m else 0.0
    # By first pipe, which keeps its meaning when a segment is parted.
    first = np.unique(scene.graph.pipe_segment, return_index=True)[1]
    queue = [(-float(m), int(p), False) for m, p in zip(most[: len(first)], first, strict=True)]
    heapq.heapify(queue)
    found: dict[int, Split] = {}
    rows: list[dict[str, Any]] = []
    while queue and len(rows) < most_count:
        bound, pipe, known = heapq.heappop(queue)
        if bound >= 0:
            break
        segment = int(scene.graph.pipe_segment[pipe])
        if not known:
            split = best_split(_inside(scene, segment))
            if split is not None:
                own = np.flatnonzero(scene.graph.pipe_segment == segment)
                found[pipe] = replace(split, pipe=int(own[split.pipe]))
                heapq.heappush(queue, (-split.spared, pipe, True))
            continue
        split = found[pipe]
        after = before - split.spared / fed_m
        rows.append(_row(network, segments, scene, split, len(rows) + 1, before, after))
        before = after
        scene = _scene(_with_valve(scene.piping, split), pipe_m, pipe_own)
        for number in _first_pipes(scene):
            side = int(scene.graph.pipe_segment[number])
            can_spare = float(scene.length_m[side]) * _lost(scene, side)
            heapq.heappush(queue, (-can_spare, number, False))
    return gpd.GeoDataFrame(
        rows, columns=list(NEW_VALVES.names()), geometry="geometry", crs=network.pipes.crs
    )


def _scene(piping: Piping, pipe_m: Reals, pipe_own: Reals) -> _Scene:
    graph = graph_of(piping)
    count = graph.segments_count
    both = summed(graph.pipe_segment, np.column_stack([pipe_m, pipe_own]), count)
    return _Scene(piping, graph, both[:, 0], both[:, 1], pipe_m, pipe_own)


def _lost(scene: _Scene, segment: int) -> float:
    """Properties without water when a segment is shut off."""
    made = closure(scene.graph, _only(scene.graph, segment))
    return float(scene.own[made.unintended | made.shut_off].sum())


def _all_lost(scene: _Scene) -> Reals:
    """The same of every segment (S); 0 where none is fed."""
    hanging = hanging_of(scene.graph)
    fed = hanging.place >= 0
    weight = np.zeros((len(hanging.above), 1))
    weight[hanging.place[fed], 0] = scene.own[fed]
    lost = np.zeros(scene.graph.segments_count)
    lost[fed] = dry_alone(hanging, weight)[hanging.place[fed], 0]
    return lost


def _only(graph: SegmentGraph, segment: int) -> Flags:
    flags = np.zeros(graph.segments_count, dtype=bool)
    flags[segment] = True
    return flags


def _inside(scene: _Scene, segment: int) -> Inside:
    """The segment from within, its pipes in their order, then its check and reducing valves."""
    piping, graph = scene.piping, scene.graph
    pipes = np.flatnonzero(graph.pipe_segment == segment)
    acting = np.flatnonzero(graph.node_segment[piping.acting_start] == segment)
    nodes = np.flatnonzero(graph.node_segment == segment)
    nothing = np.zeros(len(acting))
    label = pieces(graph, _only(graph, segment))
    tie_node, beyond = _ties(piping, graph, segment)
    hangs = label[beyond] != label[-1]
    areas, number = np.unique(label[beyond[hangs]], return_inverse=True)
    tie_area = np.full(len(tie_node), -1, dtype=np.int64)
    tie_area[hangs] = number
    own = np.bincount(label[:-1], weights=scene.own, minlength=label.max() + 1)
    return Inside(
        nodes_count=len(nodes),
        start=np.searchsorted(nodes, [*piping.start[pipes], *piping.acting_start[acting]]),
        end=np.searchsorted(nodes, [*piping.end[pipes], *piping.acting_end[acting]]),
        fits=np.arange(len(pipes) + len(acting)) < len(pipes),
        length_m=np.concatenate([scene.pipe_m[pipes], nothing]),
        own=np.concatenate([scene.pipe_own[pipes], nothing]),
        tie_node=np.searchsorted(nodes, tie_node),
        tie_area=tie_area,
        area_own=own[areas],
    )


def _ties(piping: Piping, graph: SegmentGraph, segment: int) -> tuple[Wholes, Wholes]:
    """Nodes of the segment at which an open gate or a source is, and the segment beyond each."""
    supply = graph.segments_count
    nodes, beyond = [], []
    sides = (
        (piping.gate_start, graph.gate_first, graph.gate_second),
        (piping.gate_end, graph.gate_second, graph.gate_first),
    )
    for node, here, there in sides:
        own = graph.gate_open & (here == segment) & (there != segment)
        nodes.append(node[own])
        beyond.append(there[own])
    enters = piping.source_node[piping.source_node != OUTSIDE]
    enters = enters[graph.node_segment[enters] == segment]
    nodes.append(enters)
    beyond.append(np.full(len(enters), supply))
    return np.concatenate(nodes), np.concatenate(beyond)


def _with_valve(piping: Piping, split: Split) -> Piping:
    """The piping with a gate at an end of a pipe; it is the last one."""
    start, end = piping.start.copy(), piping.end.copy()
    parted = start if split.at_start else end
    node, added = int(parted[split.pipe]), piping.nodes_count
    parted[split.pipe] = added
    return replace(
        piping,
        start=start,
        end=end,
        nodes_count=added + 1,
        gate_start=np.append(piping.gate_start, node),
        gate_end=np.append(piping.gate_end, added),
        gate_open=np.append(piping.gate_open, True),
        gate_valves=(*piping.gate_valves, ("",)),
        gate_shut=(*piping.gate_shut, ()),
        gate_acting=(*piping.gate_acting, ""),
    )


def _first_pipes(scene: _Scene) -> list[int]:
    """The first pipe on each side of the last gate."""
    sides = {int(scene.graph.gate_first[-1]), int(scene.graph.gate_second[-1])}
    return [int(np.argmax(scene.graph.pipe_segment == side)) for side in sorted(sides)]


def _row(
    network: Network,
    segments: Segments,
    scene: _Scene,
    split: Split,
    rank: int,
    before: float,
    after: float,
) -> dict[str, Any]:
    """A row of table NEW_VALVES; `scene` is that before the valve is fitted."""
    ends = scene.piping.start if split.at_start else scene.piping.end
    node = ends[split.pipe]
    meets = (scene.piping.start == node) | (scene.piping.end == node)
    meets[split.pipe] = False
    names = network.pipes.index.to_numpy(dtype=object)
    line = network.pipes.geometry.iloc[split.pipe]
    gain = (before - after) / before if before > 0 else 0.0
    pipe_id, beside = names[split.pipe], natural(names[meets])
    return {
        "rank": rank,
        "pipe_id": pipe_id,
        "segment_id": segments.pipes["segment_id"].iloc[split.pipe],
        "beside_pipes": ", ".join(beside),
        "one_side_m": split.one_side_m,
        "other_side_m": split.other_side_m,
        "before_properties_count": before,
        "after_properties_count": after,
        "gain_share": gain,
        "said": f"One more valve on pipe {pipe_id}, where it meets {listed(beside)}, parts "
        f"{brief(split.one_side_m)} m from {brief(split.other_side_m)} m: a break anywhere then "
        f"takes water from {whole(after)} properties in the mean, not {whole(before)} "
        f"({percent(gain, decimals=0)} fewer).",
        "geometry": Point(line.coords[0] if split.at_start else line.coords[-1]),
    }
