"""The segments of a network: what valves shut off as one, and what lies in each."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np
import pandas as pd

from district.errors import Finding
from district.hydraulics.model import Reals, Wholes
from district.isolate.graph import SegmentGraph, graph_of
from district.isolate.piping import OUTSIDE, Piping, piping_of
from district.isolate.unshuttable import findings_of
from district.isolate.weights import connection_pipes, loss_columns, summed, weights_of
from district.network import Network
from district.schema.isolate_tables import SEGMENT_PIPES, SEGMENTS
from district.settings import Settings
from district.words import natural


@dataclass(frozen=True, eq=False)
class Segments:
    """Tables SEGMENTS (by number of the graph) and SEGMENT_PIPES (by `network.pipes`), and more.

    piping, graph
        what they rest on.
    weight (S, K), pipe_weight (P, K), tap_weight (C, K)
        what each segment, pipe and connection counts, by `weights.KINDS`.
    tap_pipe (C)
        row of the pipe of each connection, -1 for none.
    tanks
        ids of tanks by segment number.
    """

    table: pd.DataFrame
    pipes: pd.DataFrame
    piping: Piping
    graph: SegmentGraph
    weight: Reals
    pipe_weight: Reals
    tap_weight: Reals
    tap_pipe: Wholes
    tanks: Mapping[int, tuple[str, ...]]
    findings: tuple[Finding, ...]

    def segment_ids(self) -> Any:
        """The ids in order of number."""
        return self.table["segment_id"].to_numpy(dtype=object)


def segments_of(
    network: Network, *, settings: Settings, files: Mapping[str, str] | None = None
) -> Segments:
    """Cut the network at the valves that can shut, and at those that are shut.

    Findings name valves that cannot be counted on, segments that no valve shuts off from a
    source, and valves that part nothing. `files` tells the file of table 'valves'. The network is
    not changed.
    """
    piping, unclear = piping_of(network, files=files)
    graph = graph_of(piping)
    pipe_weight, tap_weight = weights_of(network, settings=settings)
    tap_pipe = connection_pipes(network)
    count = graph.segments_count
    segment_of = np.append(graph.pipe_segment, -1)
    weight = summed(graph.pipe_segment, pipe_weight, count) + summed(
        segment_of[tap_pipe], tap_weight, count
    )
    names = network.pipes.index.to_numpy(dtype=object)
    first = np.unique(graph.pipe_segment, return_index=True)[1]
    ids = names[first]
    around, shut = _around(piping, graph)
    sources = _sources(piping, graph)
    tanks = _tanks(network, graph)
    table = pd.DataFrame(
        {
            "segment_id": ids,
            **loss_columns(weight),
            "valves": [_text(around.get(s, ())) for s in range(count)],
            "valves_count": [len(around.get(s, ())) for s in range(count)],
            "shut_valves": [_text(shut.get(s, ())) for s in range(count)],
            "sources": [_text(sources.get(s, ())) for s in range(count)],
            "tanks": [_text(tanks.get(s, ())) for s in range(count)],
            "cell_ids": _cells(network, graph),
            "fed": graph.fed,
        }
    )[list(SEGMENTS.names())]
    pipes = pd.DataFrame({"pipe_id": names, "segment_id": ids[graph.pipe_segment]})
    return Segments(
        table=table,
        pipes=pipes[list(SEGMENT_PIPES.names())],
        piping=piping,
        graph=graph,
        weight=weight,
        pipe_weight=pipe_weight,
        tap_weight=tap_weight,
        tap_pipe=tap_pipe,
        tanks={s: tuple(natural(t)) for s, t in tanks.items()},
        findings=(*unclear, *findings_of(piping, graph, table, files=files)),
    )


def _around(
    piping: Piping, graph: SegmentGraph
) -> tuple[dict[int, list[str]], dict[int, list[str]]]:
    """By segment, the first valve of each open gate around it, and the valves that stand shut."""
    around: dict[int, list[str]] = {}
    shut: dict[int, list[str]] = {}
    sides = zip(graph.gate_first.tolist(), graph.gate_second.tolist(), strict=True)
    for gate, (first, second) in enumerate(sides):
        if first == second:
            continue
        valves = piping.gate_valves[gate]
        for segment in (first, second):
            if piping.gate_open[gate]:
                around.setdefault(segment, []).append(valves[0])
            else:
                shut.setdefault(segment, []).extend(piping.gate_shut[gate])
    return around, shut


def _sources(piping: Piping, graph: SegmentGraph) -> dict[int, list[str]]:
    found: dict[int, list[str]] = {}
    for node, name in zip(piping.source_node, piping.source_id, strict=True):
        if node != OUTSIDE:
            found.setdefault(int(graph.node_segment[node]), []).append(name)
    return found


def _tanks(network: Network, graph: SegmentGraph) -> dict[int, list[str]]:
    sensors = network.sensors
    tanks = sensors[sensors["kind"] == "tank_level"]
    pipe = network.pipes.index.get_indexer(tanks["pipe_id"].astype(str))
    found: dict[int, list[str]] = {}
    for name, at in zip(tanks.index, pipe, strict=True):
        if at >= 0:
            found.setdefault(int(graph.pipe_segment[at]), []).append(str(name))
    return found


def _cells(network: Network, graph: SegmentGraph) -> list[str]:
    pairs = pd.DataFrame({"segment": graph.pipe_segment, "cell": network.pipes["cell_id"].array})
    found: list[list[str]] = [[] for _ in range(graph.segments_count)]
    for segment, cell in pairs.drop_duplicates().itertuples(index=False):
        found[segment].append(str(cell))
    return [_text(names) for names in found]


def _text(names: Iterable[str]) -> str:
    return ", ".join(natural(names))
