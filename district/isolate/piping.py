"""The pipes parted where a valve can shut, or is shut: what water may pass, and where it enters."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np

from district.errors import Finding
from district.hydraulics.model import Flags, Wholes
from district.hydraulics.parting import ACTING, standing_node
from district.hydraulics.places import along
from district.network import Network
from district.words import natural_key, places, plural, true

OUTSIDE = -1
"""In place of a node: the supply itself, on the far side of a valve at a source's outlet."""
SHUTTING_KINDS = ("automatic_shutoff", "isolation", "boundary")
"""Kinds of valves that can part the pipes, those that need nobody on the spot first. A check or a
reducing valve holds nothing back for sure, so that no work is protected by it."""


@dataclass(frozen=True, eq=False)
class Piping:
    """P pipes between nodes; G gates, each a place with valves, between two nodes.

    start, end (P)
        nodes at the ends of each pipe. Where a gate or an acting valve stands, each of the two
        pipes has a node of its own.
    nodes_count
    gate_start, gate_end (G)
        nodes on both sides; gate_end is `OUTSIDE` at the outlet of a source.
    gate_open (G)
        False where a valve is shut.
    gate_valves (G)
        ids of the valves of each gate that a crew can turn, the first the one to take; () at a
        shut gate that nobody can turn.
    gate_shut (G)
        ids of the valves of each gate that stand shut; () at an open one.
    source_node (S), source_id (S)
        node at which each source feeds; `OUTSIDE` where a gate stands between.
    source_gate (S)
        that gate, -1 where there is none.
    acting_start, acting_end (A), acting_valve (A)
        check and reducing valves: they pass water, one way only for some, which the map does not
        tell.
    gate_acting (G)
        such a valve that stands at the gate too, '' for none.
    """

    start: Wholes
    end: Wholes
    nodes_count: int
    gate_start: Wholes
    gate_end: Wholes
    gate_open: Flags
    gate_valves: tuple[tuple[str, ...], ...]
    gate_shut: tuple[tuple[str, ...], ...]
    source_node: Wholes
    source_id: tuple[str, ...]
    source_gate: Wholes
    acting_start: Wholes
    acting_end: Wholes
    acting_valve: tuple[str, ...]
    gate_acting: tuple[str, ...]


def piping_of(
    network: Network, *, files: Mapping[str, str] | None = None
) -> tuple[Piping, tuple[Finding, ...]]:
    """The piping of a network, and what of its valves cannot be used.

    A place to part the pipes is a node where a valve of `SHUTTING_KINDS` stands that a crew can
    turn, or any shut valve. Meters do not part the water. A valve where more than two pipes meet
    is left out with a finding: which of them it closes is not known. One at a pipe's dead end
    parts nothing, but one at the end where a source feeds shuts the source off. `files` tells the
    file of table 'valves'. The network is not changed.
    """
    pipes = network.pipes
    start = pipes["start_position"].to_numpy(dtype=np.int64).copy()
    end = pipes["end_position"].to_numpy(dtype=np.int64).copy()
    ends = np.concatenate([start, end])
    nodes_count = len(network.nodes)
    slots = np.argsort(ends, kind="stable")
    first = np.searchsorted(ends[slots], np.arange(nodes_count + 1))
    fed_pipe, fed_share = along(network.sources, pipes)
    fed_node = standing_node(start, end, pipe=fed_pipe, share=fed_share)

    gates: list[tuple[int, int]] = []
    stands_shut: list[tuple[str, ...]] = []
    turned: list[tuple[str, ...]] = []
    also_acting: list[str] = []
    acting: list[tuple[int, int]] = []
    acting_valve: list[str] = []
    unclear: list[str] = []
    outlet: dict[int, int] = {}
    for node, valves in _valves_at_nodes(network, start, end).items():
        can = [v for v in valves if v["can_shut"]]
        shut = tuple(str(v["valve_id"]) for v in valves if v["shut"])
        acts = [str(v["valve_id"]) for v in valves if v["acts"]]
        degree = int(first[node + 1] - first[node])
        if degree > 2:
            # A shut one is an error that building the network has told of.
            unclear += [str(v["valve_id"]) for v in can if not v["shut"]]
        elif degree == 2 and (can or shut or acts):
            ends[slots[first[node] + 1]] = nodes_count
            if can or shut:
                gates.append((node, nodes_count))
                stands_shut.append(shut)
                turned.append(tuple(str(v["valve_id"]) for v in can))
                also_acting.append(acts[0] if acts else "")
            else:
                acting.append((node, nodes_count))
                acting_valve.append(acts[0])
            nodes_count += 1
        elif degree == 1 and (can or shut) and (fed_node == node).any():
            outlet[node] = len(gates)
            gates.append((node, OUTSIDE))
            stands_shut.append(shut)
            turned.append(tuple(str(v["valve_id"]) for v in can))
            also_acting.append("")
    on = np.flatnonzero(fed_pipe >= 0)
    at_start = fed_share[on] < 0.5
    enters = np.where(at_start, ends[fed_pipe[on]], ends[len(start) + fed_pipe[on]])
    through = np.array([outlet.get(int(n), -1) for n in fed_node[on]], dtype=np.int64)
    table = np.array(gates, dtype=np.int64).reshape(-1, 2)
    links = np.array(acting, dtype=np.int64).reshape(-1, 2)
    piping = Piping(
        start=ends[: len(start)],
        end=ends[len(start) :],
        nodes_count=nodes_count,
        gate_start=table[:, 0],
        gate_end=table[:, 1],
        gate_open=np.array([not shut for shut in stands_shut], dtype=bool),
        gate_valves=tuple(turned),
        gate_shut=tuple(stands_shut),
        source_node=np.where(through >= 0, OUTSIDE, enters),
        source_id=tuple(str(s) for s in network.sources.index[on]),
        source_gate=through,
        acting_start=links[:, 0],
        acting_end=links[:, 1],
        acting_valve=tuple(acting_valve),
        gate_acting=tuple(also_acting),
    )
    source = (files or {}).get("valves", "valves")
    return piping, tuple(_at_junctions(unclear, source))


def _valves_at_nodes(network: Network, start: Wholes, end: Wholes) -> dict[int, list[Any]]:
    """By node in order: the valves standing there, the one to turn first at the head."""
    valves = network.valves
    pipe, share = along(valves, network.pipes)
    node = standing_node(start, end, pipe=pipe, share=share)
    kind = valves["kind"].astype(str).to_numpy()
    shut = (valves["state"] == "shut").to_numpy()
    turns = np.array([true(flag) for flag in valves["operable"]], dtype=bool)
    found: dict[int, list[Any]] = {}
    for v in np.flatnonzero(node >= 0):
        found.setdefault(int(node[v]), []).append(
            {
                "valve_id": str(valves.index[v]),
                "kind": kind[v],
                "shut": bool(shut[v]),
                "acts": kind[v] in ACTING and not shut[v],
                "can_shut": kind[v] in SHUTTING_KINDS and bool(turns[v]),
            }
        )
    return {
        n: sorted(
            found[n], key=lambda v: (v["kind"] != "automatic_shutoff", natural_key(v["valve_id"]))
        )
        for n in sorted(found)
    }


def _at_junctions(valve_ids: list[str], source: str) -> list[Finding]:
    if not valve_ids:
        return []
    return [
        Finding(
            "warning",
            source,
            places("valve", valve_ids),
            "geometry",
            got=f"{plural(len(valve_ids), 'valve')} where three or more pipes meet",
            expected="each on one pipe, so that it is known which one it shuts",
            remedy="Move each along its pipe, away from the junction; until then no shut-off "
            "counts on it",
            count=len(valve_ids),
        )
    ]
