"""Where valves stand: nodes parted at shut valves, and at those that check or reduce."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
import pandas as pd

from district.hydraulics.model import Flags, Kind, Wholes

ACTING = {"check": Kind.CHECK, "pressure_reducing": Kind.REDUCING}
"""Kinds of open valves that are links of their own."""


@dataclass(frozen=True, eq=False)
class Parted:
    """Ends of pipes after nodes were parted: N0 nodes of the network, then the added ones.

    start, end (P)
        nodes at the ends of each pipe.
    parent
        for each added node, the node of the network it was parted from.
    valve (V)
        positions, among the valves given, of those that are links: from valve_start to valve_end,
        as drawn and not yet as the water runs.
    said
        valves that could not be placed, one sentence each.
    """

    start: Wholes
    end: Wholes
    parent: Wholes
    valve: Wholes
    valve_start: Wholes
    valve_end: Wholes
    said: tuple[str, ...]


def parted(
    start: Wholes,
    end: Wholes,
    *,
    nodes_count: int,
    shut_node: Flags,
    valves: pd.DataFrame,
    valve_node: Wholes,
) -> Parted:
    """Part the nodes where valves stand.

    `shut_node` (N0): a shut valve stands there, every pipe gets a node of its own. `valves` with
    columns kind and valve_id; `valve_node` the node each stands on, -1 where it acts on none. A
    check or reducing valve where two pipes meet becomes a link between their two nodes.
    """
    ends = np.concatenate([start, end])
    parent: list[int] = []
    links: list[tuple[int, int, int]] = []
    said: list[str] = []

    def own_node(slot: int) -> int:
        parent.append(int(ends[slot]))
        ends[slot] = nodes_count + len(parent) - 1
        return int(ends[slot])

    order = np.argsort(ends, kind="stable")
    first = np.searchsorted(ends[order], np.arange(nodes_count + 1))
    for n in np.flatnonzero(shut_node):
        for slot in order[first[n] + 1 : first[n + 1]]:
            own_node(int(slot))
    acting = valves["kind"].isin(list(ACTING)).to_numpy() & (valve_node >= 0)
    held: set[int] = set()
    for v in np.flatnonzero(acting):
        node = int(valve_node[v])
        if shut_node[node]:
            continue
        name, slots = valves["valve_id"].iloc[v], order[first[node] : first[node + 1]]
        if len(slots) != 2 or node in held:
            why = "another stands there" if node in held else f"{len(slots)} pipes meet there"
            said.append(f"Valve {name} is taken as open: {why}, so what it acts on is not known.")
            continue
        held.add(node)
        links.append((int(v), node, own_node(int(slots[1]))))
    table = np.array(links, dtype=np.int64).reshape(-1, 3)
    return Parted(
        start=ends[: len(start)],
        end=ends[len(start) :],
        parent=np.array(parent, dtype=np.int64),
        valve=table[:, 0],
        valve_start=table[:, 1],
        valve_end=table[:, 2],
        said=tuple(said),
    )


def standing_node(start: Any, end: Any, *, pipe: Any, share: Any) -> Wholes:
    """The end of its pipe at which each device stands; -1 where it is on no pipe (`pipe` -1).

    `share` is how far along its pipe it is, 0 at the start to 1 at the end.
    """
    at = np.where(np.asarray(share) < 0.5, np.asarray(start)[pipe], np.asarray(end)[pipe])
    return np.where(np.asarray(pipe) >= 0, at, -1).astype(np.int64)
