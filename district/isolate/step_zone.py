"""One zone as the segments that its valves part, what must stay fed of it, and what is likely."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
from scipy.sparse import csr_array
from scipy.sparse.csgraph import connected_components, dijkstra

from district.errors import StageError
from district.hydraulics.model import Flags, Reals, Wholes
from district.isolate.piping import OUTSIDE, Piping
from district.isolate.segments import Segments
from district.isolate.users import is_critical
from district.isolate.weights import connection_pipes
from district.network import Network
from district.words import listed, natural, plural


@dataclass(frozen=True, eq=False)
class ZoneSegments:
    """n segments of one zone; number 0 is where water enters, of all its inlets together.

    pipe (P), tap (C)
        the segment of each pipe and connection, -1 where it is of another zone or not fed.
    gate (G)
        numbers, in the piping, of the open gates between two of them.
    first, second (G)
        segments on both sides.
    length_m (n)
    far_m (n)
        about how far it lies from the inlet, along the pipes.
    kept (n)
        must not be cut off.
    reasons
        why, one sentence a reason.
    """

    pipe: Wholes
    tap: Wholes
    gate: Wholes
    first: Wholes
    second: Wholes
    length_m: Reals
    far_m: Reals
    kept: Flags
    reasons: tuple[str, ...]

    def count(self) -> int:
        """How many segments."""
        return len(self.length_m)


def zone_segments(network: Network, segments: Segments, cell_id: str) -> ZoneSegments:
    """The segments of a zone and the gates between them.

    Kept fed are the segments with water's way in, with a way on to another zone, with a tank, and
    those of users who must not lose water (`users.is_critical`). A gate counts where both its
    sides are of the zone. Raises `StageError` where no meter or source on the map feeds the zone,
    or no valve parts it.
    """
    piping, graph = segments.piping, segments.graph
    own = (network.pipes["cell_id"] == cell_id).to_numpy()
    inlets, outlets = (
        _at_meters(network, own, cell_id, side) for side in ("downstream", "upstream")
    )
    sources = network.sources.loc[network.sources["cell_id"] == cell_id, "pipe_id"]
    inlets |= own & network.pipes.index.isin(sources)
    if not inlets.any():
        raise StageError(
            f"zone {cell_id}: no meter or source on the map feeds it, so that nobody can tell what "
            "a valve cuts off. Put its inlet meter on the map."
        )
    number = np.full(graph.segments_count, -1, dtype=np.int64)
    entering = np.unique(graph.pipe_segment[inlets])
    others = np.setdiff1d(np.unique(graph.pipe_segment[own]), entering)
    number[entering], number[others] = 0, 1 + np.arange(len(others))
    gate = _gates_within(piping, own)
    first, second = (number[side[gate]] for side in (graph.gate_first, graph.gate_second))
    inner = first != second
    gate, first, second = gate[inner], first[inner], second[inner]
    count = 1 + len(others)
    fed = _fed(first, second, count)
    again = np.where(fed, np.cumsum(fed) - 1, -1)
    on = fed[first]
    gate, first, second = gate[on], again[first[on]], again[second[on]]
    if not len(gate):
        raise StageError(
            f"zone {cell_id}: no open valve that turns parts it, so that no step can be made. "
            "Check the valves on the map, or fit one ('district isolate' tells where)."
        )
    number = np.append(np.where(number >= 0, again[number], -1), -1)
    pipe = np.where(own, number[graph.pipe_segment], -1)
    tap = np.append(pipe, -1)[connection_pipes(network)]
    count = int(fed.sum())
    metres = network.pipes["length_m"].to_numpy(dtype=float)
    length_m = np.bincount(pipe[pipe >= 0], metres[pipe >= 0], count).astype(float)
    kept, reasons = _kept(network, pipe, tap, outlets, count)
    return ZoneSegments(
        pipe=pipe,
        tap=tap,
        gate=gate,
        first=first,
        second=second,
        length_m=length_m,
        far_m=_far(first, second, length_m),
        kept=kept,
        reasons=reasons,
    )


def _at_meters(network: Network, own: Flags, cell_id: str, side: str) -> Flags:
    """Pipes of the zone that end at one of its meters, on the side of which it lies."""
    bounds = network.boundaries
    meters = bounds.loc[bounds[f"{side}_cell_id"] == cell_id, "meter_id"]
    at = network.nodes["cut"].isin(meters).to_numpy()
    ends = network.pipes[["start_position", "end_position"]].to_numpy(dtype=np.int64)
    return np.asarray(own & at[ends].any(axis=1), dtype=bool)


def _gates_within(piping: Piping, own: Flags) -> Wholes:
    """Open gates that a crew can turn, with a pipe of the zone on both sides."""
    touched = np.zeros(piping.nodes_count + 1, dtype=bool)
    touched[piping.start[own]] = touched[piping.end[own]] = True
    turns = np.array([bool(v) for v in piping.gate_valves], dtype=bool)
    inside = touched[piping.gate_start] & touched[piping.gate_end]
    return np.flatnonzero(piping.gate_open & turns & inside & (piping.gate_end != OUTSIDE))


def _fed(first: Wholes, second: Wholes, count: int) -> Flags:
    links = csr_array((np.ones(len(first)), (first, second)), shape=(count, count))
    label = connected_components(links, directed=False)[1]
    return np.asarray(label == label[0], dtype=bool)


def _far(first: Wholes, second: Wholes, length_m: Reals) -> Reals:
    """From segment 0, through half of the length of each segment on the way."""
    count = len(length_m)
    way = np.maximum((length_m[first] + length_m[second]) / 2, 1.0)
    # Of two gates between the same segments one is enough; the matrix would add them up.
    pairs = {(int(a), int(b)): w for a, b, w in zip(first, second, way, strict=True)}
    rows, columns = np.array(list(pairs)).T
    links = csr_array((list(pairs.values()), (rows, columns)), shape=(count, count))
    return np.asarray(dijkstra(links, directed=False, indices=0))


def _kept(
    network: Network, pipe: Wholes, tap: Wholes, outlets: Flags, count: int
) -> tuple[Flags, tuple[str, ...]]:
    kept = np.zeros(count, dtype=bool)
    kept[0] = True
    reasons = []
    leading = np.unique(pipe[outlets & (pipe >= 0)])
    if len(leading):
        kept[leading] = True
        reasons.append("Kept fed, as the zone feeds another through it: the way to its outlet.")
    sensors = network.sensors
    at = network.pipes.index.get_indexer(
        sensors.loc[sensors["kind"] == "tank_level", "pipe_id"].astype(str)
    )
    tanks = np.setdiff1d(np.append(pipe, -1)[at], [-1])
    if len(tanks):
        kept[tanks] = True
        reasons.append("Kept fed: what a tank stands on, which would go on feeding it.")
    taps = network.connections
    critical = np.flatnonzero(is_critical(taps) & (tap >= 0)) if len(taps) else np.array([], int)
    kept[tap[critical]] = True
    if len(critical):
        names = natural(_name(row) for row in taps.iloc[critical].to_dict("index").items())
        who = plural(len(critical), "critical user")
        reasons.append(f"Kept fed: {who}, {listed(names, shown=len(names))}.")
    return kept, tuple(reasons)


def _name(tap: tuple[Any, dict[str, Any]]) -> str:
    name, row = tap
    return f"{name} of {row['building_id']}" if row["building_id"] else str(name)
