"""What is without water under a closure: what is shut off, what is cut off with it, what may be."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
import pandas as pd

from district.hydraulics.model import Flags, Wholes
from district.isolate.graph import Closure, SegmentGraph, labels, reached
from district.isolate.piping import OUTSIDE, Piping
from district.isolate.segments import Segments
from district.isolate.weights import loss_columns, summed
from district.network import Network
from district.schema.isolate_tables import PLAN_AREAS, PLAN_PIPES
from district.words import natural

SHUT_OFF = "shut off"


@dataclass(frozen=True, eq=False)
class Areas:
    """Tables PLAN_AREAS and PLAN_PIPES; pipe_area (P): row of the area of each pipe, -1 if fed."""

    table: pd.DataFrame
    pipes: pd.DataFrame
    pipe_area: Wholes

    def area_ids(self) -> Any:
        """The ids in order of row."""
        return self.table["area_id"].to_numpy(dtype=object)


def areas_of(network: Network, segments: Segments, made: Closure) -> Areas:
    """The areas without water, what is shut off first, those in doubt last.

    An area cut off is unintended where no way is left from it to a source. It is in doubt where a
    way is left, but only past a check or reducing valve that it did not hang on before: the map
    does not tell which way such a valve passes water. A tank is no source: it lasts for hours.
    """
    graph, piping = segments.graph, segments.piping
    by_segment, kinds = _numbered(graph, made)
    pipe_area = by_segment[graph.pipe_segment]
    through: list[str] = [""] * len(kinds)
    if piping.acting_valve or any(piping.gate_acting):
        doubt, valves = _in_doubt(piping, graph, made, first=len(kinds))
        pipe_area = np.where(pipe_area < 0, doubt, pipe_area)
        through += valves
        kinds = kinds + ["doubtful"] * len(valves)
    count = len(kinds)
    dry = np.flatnonzero(pipe_area >= 0)
    tap_area = np.append(pipe_area, -1)[segments.tap_pipe]
    taps = np.flatnonzero(tap_area >= 0)
    weight = summed(pipe_area[dry], segments.pipe_weight[dry], count)
    weight += summed(tap_area[taps], segments.tap_weight[taps], count)
    names = segments.segment_ids()
    pairs = np.unique(np.column_stack([pipe_area[dry], graph.pipe_segment[dry]]), axis=0)
    lies_in: list[list[str]] = [[] for _ in range(count)]
    tanks: list[list[str]] = [[] for _ in range(count)]
    for area, segment in pairs.tolist():
        lies_in[area].append(names[segment])
        if kinds[area] != "doubtful":
            tanks[area] += segments.tanks.get(segment, ())
    area_ids = np.array([SHUT_OFF, *map(str, range(1, count))], dtype=object)[:count]
    table = pd.DataFrame(
        {
            "area_id": area_ids,
            "kind": kinds,
            **loss_columns(weight),
            "segment_ids": [", ".join(own) for own in lies_in],
            "tanks": [", ".join(natural(own)) for own in tanks],
            "may_feed": _may_feed(piping, graph, by_segment, made, count),
            "through": through,
        }
    )[list(PLAN_AREAS.names())]
    pipes = pd.DataFrame(
        {
            "pipe_id": network.pipes.index[dry].to_numpy(dtype=object),
            "segment_id": names[graph.pipe_segment[dry]],
            "area_id": area_ids[pipe_area[dry]],
        }
    )
    return Areas(table, pipes[list(PLAN_PIPES.names())], pipe_area)


def _numbered(graph: SegmentGraph, made: Closure) -> tuple[Wholes, list[str]]:
    """Row of the area of each segment, -1 if fed, and the kind of each row."""
    count = graph.segments_count
    lost = np.append(made.unintended, False)
    first, second = graph.gate_first, graph.gate_second
    on = graph.gate_open & lost[first] & lost[second]
    label = labels(count, first[on], second[on])
    own = np.flatnonzero(made.unintended)
    _, number = np.unique(label[own], return_inverse=True)
    # In order of their first segment.
    _, position = np.unique(number, return_index=True)
    rank = np.argsort(np.argsort(position, kind="stable"), kind="stable")
    area = np.full(count, -1, dtype=np.int64)
    area[made.shut_off] = 0
    area[own] = 1 + rank[number]
    return area, ["shut_off", *["unintended"] * len(position)]


def _in_doubt(
    piping: Piping, graph: SegmentGraph, made: Closure, *, first: int
) -> tuple[Wholes, list[str]]:
    """Row of the doubtful area of each pipe (from `first` on; -1 for none), and the check and
    reducing valves beside each."""
    nobody = np.zeros(graph.segments_count, dtype=bool)
    _, before = _plainly_fed(piping, graph, nobody)
    label, after = _plainly_fed(piping, graph, made.shut_off)
    left = reached(graph, made.shut_off)[graph.node_segment]
    doubt = before & ~after & left
    kinds, number = np.unique(label[doubt], return_inverse=True)
    area = np.full(piping.nodes_count, -1, dtype=np.int64)
    area[doubt] = first + number
    through: list[list[str]] = [[] for _ in kinds]
    acting = [
        *zip(piping.acting_start, piping.acting_end, piping.acting_valve, strict=True),
        *zip(piping.gate_start, piping.gate_end, piping.gate_acting, strict=True),
    ]
    for one, other, name in acting:
        for row in {int(area[n]) for n in (one, other) if n != OUTSIDE} - {-1}:
            if name:
                through[row - first].append(name)
    return area[piping.start], [", ".join(natural(names)) for names in through]


def _plainly_fed(piping: Piping, graph: SegmentGraph, shut_off: Flags) -> tuple[Wholes, Flags]:
    """Part of each node, and whether water reaches it past no check or reducing valve."""
    supply = piping.nodes_count
    off = np.append(shut_off[graph.node_segment], False)
    gate_end = np.where(piping.gate_end == OUTSIDE, supply, piping.gate_end)
    plain = np.array([not name for name in piping.gate_acting], dtype=bool)
    on = piping.gate_open & plain & ~off[piping.gate_start] & ~off[gate_end]
    enters = piping.source_node[piping.source_node != OUTSIDE]
    enters = enters[~off[enters]]
    rows = np.concatenate([piping.start, piping.gate_start[on], enters])
    columns = np.concatenate([piping.end, gate_end[on], np.full(len(enters), supply)])
    label = labels(supply + 1, rows, columns)
    return label[:supply], (label[:supply] == label[supply]) & ~off[:supply]


def _may_feed(
    piping: Piping, graph: SegmentGraph, area: Wholes, made: Closure, count: int
) -> list[str]:
    """By area, the valves that stand shut between it and what stays fed."""
    of_side = np.append(area, -1)
    found: list[list[str]] = [[] for _ in range(count)]
    for gate in made.already_shut:
        row = max(of_side[graph.gate_first[gate]], of_side[graph.gate_second[gate]])
        if row > 0 and piping.gate_valves[gate]:
            found[row] += piping.gate_shut[gate]
    return [", ".join(natural(names)) for names in found]
