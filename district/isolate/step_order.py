"""In which order the valves of a step test are turned, and when."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import time

import networkx as nx
import numpy as np
import pandas as pd

from district.hydraulics.model import Reals, Wholes
from district.hydraulics.stepping import SETTLE_S
from district.isolate.order import in_order, valve_of
from district.isolate.piping import Piping
from district.isolate.step_zone import ZoneSegments
from district.network import Network

TURN_S = 300.0
"""To go to a valve and shut or open it slowly. Common practice, no source."""
_DAY_S = 86_400


@dataclass(frozen=True, eq=False)
class Turns:
    """Gates of the piping in the order of their turns, and the numbering of the sections.

    prepare
        shut first: then every section is fed by one gate alone.
    step
        the gate of section 1, 2, ...
    section (n)
        section of each segment, 0 for what stays open.
    """

    prepare: tuple[int, ...]
    step: tuple[int, ...]
    section: Wholes


@dataclass(frozen=True)
class Night:
    """When a test may run, local time, and how long each part of it takes."""

    begins: time
    ends: time
    step_s: float = SETTLE_S
    turn_s: float = TURN_S

    def window_s(self) -> float:
        """From begin to end, over midnight where it ends earlier than it begins."""
        return (_seconds(self.ends) - _seconds(self.begins)) % _DAY_S

    def most_extra_count(self, steps_count: int) -> int:
        """Valves that can be shut beforehand and opened again beside so many steps; below 0 where
        not even the steps fit."""
        steps = (1 + steps_count) * self.step_s + steps_count * self.turn_s
        return int((self.window_s() - steps) // (2 * self.turn_s))

    def most_steps_count(self) -> int:
        """Steps that fit where no other valve is turned."""
        return max(int((self.window_s() - self.step_s) // (self.step_s + self.turn_s)), 0)

    def at(self, after_s: float) -> str:
        """The local time so long after the begin, HH:MM."""
        whole = round((_seconds(self.begins) + after_s) / 60) % 1440
        return f"{whole // 60:02d}:{whole % 60:02d}"


def _seconds(clock: time) -> int:
    return clock.hour * 3600 + clock.minute * 60 + clock.second


def turns_of(network: Network, piping: Piping, zone: ZoneSegments, part: Wholes) -> Turns:
    """Which gate stays the only way into each section, and in which order they shut.

    The ways that stay are the widest ones (they lose least head), so chosen that every section is
    reached over sections that are shut after it. The section farthest from the inlet is shut first
    of those on which no open one hangs: what is shut stays shut, and comes nearer.
    """
    count = int(part.max()) + 1
    cross = np.flatnonzero(part[zone.first] != part[zone.second])
    bore = _bores(network, piping, zone.gate[cross])
    graph: nx.Graph[int] = nx.Graph()
    graph.add_nodes_from(range(count))
    for row in np.lexsort([zone.gate[cross], -bore]).tolist():
        one, other = (int(part[side[cross[row]]]) for side in (zone.first, zone.second))
        if not graph.has_edge(one, other):
            graph.add_edge(one, other, weight=float(bore[row]), gate=int(zone.gate[cross[row]]))
    tree = nx.maximum_spanning_tree(graph)
    parent = dict(nx.bfs_predecessors(tree, 0))
    size = np.bincount(part, zone.length_m, count)
    far = np.bincount(part, zone.length_m * zone.far_m, count) / np.maximum(size, 1e-9)
    left = set(range(1, count))
    order: list[int] = []
    while left:
        ends = left - {parent[p] for p in left}
        order.append(max(ends, key=lambda p: (far[p], -p)))
        left.remove(order[-1])
    step = tuple(int(tree.edges[p, parent[p]]["gate"]) for p in order)
    number = np.zeros(count, dtype=np.int64)
    number[order] = 1 + np.arange(len(order))
    others = np.setdiff1d(zone.gate[cross], step)
    return Turns(tuple(in_order(network, piping, others, ())), step, number[part])


def _bores(network: Network, piping: Piping, gates: Wholes) -> Reals:
    """Diameter of the pipe on which the valve of each gate stands, mm; 0 where not known."""
    names = [valve_of(piping, int(g), ())[0] for g in gates]
    pipes = network.valves["pipe_id"].reindex(names).astype(str)
    bore = network.pipes["diameter_mm"].reindex(pipes).to_numpy(dtype=float)
    return np.asarray(np.nan_to_num(bore))


def actions(network: Network, piping: Piping, turns: Turns, night: Night) -> pd.DataFrame:
    """Rows of table STEP_PLAN without `said`, with `begins_s` and `ends_s` from the begin on."""
    clock = 0.0
    rows: list[tuple[str, int | None, str, float, float]] = []

    def put(action: str, gate: int | None, section: str, takes_s: float) -> None:
        nonlocal clock
        rows.append((action, gate, section, clock, clock + takes_s))
        clock += takes_s

    numbers = range(1, len(turns.step) + 1)
    for gate in turns.prepare:
        put("prepare", gate, "", night.turn_s)
    put("read", None, "", night.step_s)
    for number, gate in zip(numbers, turns.step, strict=True):
        put("step", gate, str(number), night.step_s)
    for number, gate in reversed([*zip(numbers, turns.step, strict=True)]):
        put("reopen", gate, str(number), night.turn_s)
    for gate in reversed(turns.prepare):
        put("reopen", gate, "", night.turn_s)
    table = pd.DataFrame(rows, columns=["action", "gate", "section_id", "begins_s", "ends_s"])
    valves = [("", []) if missing else valve_of(piping, int(g), ()) for g, missing in
              zip(table["gate"], table["gate"].isna(), strict=True)]  # fmt: skip
    table["rank"] = 1 + np.arange(len(table))
    table["local_time"] = [night.at(s) for s in table["begins_s"]]
    table["valve_id"] = [name for name, _ in valves]
    table["beside"] = [", ".join(others) for _, others in valves]
    gates = table["gate"].fillna(-1).astype(int).to_numpy()
    table["diameter_mm"] = [
        float(_bores(network, piping, np.array([g]))[0]) or np.nan if g >= 0 else np.nan
        for g in gates
    ]
    return table.drop(columns="gate")
