"""The plan: valves to shut in order, what is dry then and who that is, and what if one fails."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any

import numpy as np
import pandas as pd

from district.hydraulics.model import Wholes
from district.isolate.areas import Areas, areas_of
from district.isolate.failures import plan_failures, sources_in
from district.isolate.graph import closure
from district.isolate.order import in_order, stuck_gates, valve_rows
from district.isolate.segments import Segments
from district.isolate.sentences import sentences
from district.isolate.target import Target
from district.isolate.users import kind_of_users, urgency
from district.network import Network
from district.schema.columns import empty
from district.schema.isolate_tables import ISOLATION_CAUTION, PLAN_USERS


@dataclass(frozen=True, eq=False)
class Plan:
    """Tables PLAN_VALVES, PLAN_AREAS, PLAN_PIPES, PLAN_USERS and PLAN_FAILURES.

    sources
        ids of sources that have to be shut at their own works, since no valve stands between.
    said
        the plan in sentences, for the crew; `caution` has to be shown with them.
    """

    valves: pd.DataFrame
    areas: pd.DataFrame
    pipes: pd.DataFrame
    users: pd.DataFrame
    failures: pd.DataFrame
    sources: tuple[str, ...]
    said: tuple[str, ...]
    caution: str = ISOLATION_CAUTION


def plan_shut_off(
    network: Network, segments: Segments, target: Target, *, stuck: Iterable[str] = ()
) -> Plan:
    """The least to shut so that the target is dry, and what that takes with it.

    `stuck` are ids of valves that do not close: what lies behind them is shut off as well, unless
    another valve stands at the same place. One that stands shut on the map may be named too, where
    it lets water past. Raises `InputError` for an id that is no valve of the network.

    Valves are told in the order to shut them: first those that shut by themselves or from afar,
    which need nobody on the way; then by the diameter of their pipe, the widest first, as most of
    the water comes through it and it takes most turns, while the last one to close, against the
    full difference of pressure, should be a small one (common practice, no source).
    """
    gates = stuck_gates(network, segments.piping, stuck)
    made = closure(segments.graph, target.wanted, gates.failed)
    found = areas_of(network, segments, made)
    order = in_order(network, segments.piping, made.gates, gates.not_turning)
    valves = valve_rows(network, segments.piping, made, order, gates.not_turning)
    users = _users(network, segments, found)
    failures = plan_failures(network, segments, target.wanted, made, order, gates)
    sources = sources_in(segments, made)
    return Plan(
        valves=valves,
        areas=found.table,
        pipes=found.pipes,
        users=users,
        failures=failures,
        sources=sources,
        said=sentences(
            target.said,
            valves=valves,
            areas=found.table,
            users=users,
            failures=failures,
            sources=sources,
            stuck=[str(v) for v in stuck],
            was_dry=not bool((segments.graph.fed & made.shut_off).any()),
        ),
    )


def _users(network: Network, segments: Segments, found: Areas) -> pd.DataFrame:
    """Table PLAN_USERS."""
    area = np.append(found.pipe_area, -1)[segments.tap_pipe]
    rows: Wholes = np.flatnonzero(area >= 0)
    if not len(rows):
        return empty(PLAN_USERS)
    taps = network.connections.iloc[rows]
    kinds = kind_of_users(taps)
    also = _also_fed_by(network, segments, area, taps)
    table = pd.DataFrame(
        {
            "connection_id": taps.index.astype(str).to_numpy(dtype=object),
            "building_id": taps["building_id"].to_numpy(dtype=object),
            "kind": kinds,
            "use_class": taps["use_class"].to_numpy(dtype=object),
            "properties": taps["properties"].to_numpy(),
            "area_id": found.area_ids()[area[rows]],
            "also_fed_by": also,
        }
    )
    order = np.lexsort([area[rows], urgency(kinds)])
    return table.iloc[order].reset_index(drop=True)[list(PLAN_USERS.names())]


def _also_fed_by(network: Network, segments: Segments, area: Wholes, taps: Any) -> list[str]:
    """Of each connection, the others of its building that keep supply."""
    buildings = set(taps["building_id"]) - {""}
    if not buildings:
        return [""] * len(taps)
    every = network.connections["building_id"]
    fed = np.append(segments.graph.fed[segments.graph.pipe_segment], False)[segments.tap_pipe]
    keeps = every.isin(buildings).to_numpy() & (area < 0) & fed
    kept: dict[str, list[str]] = {}
    for name, building in every[keeps].items():
        kept.setdefault(str(building), []).append(str(name))
    return [", ".join(sorted(kept.get(str(b), []))) for b in taps["building_id"]]
