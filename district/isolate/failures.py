"""The plan again for each of its valves: what else to shut when it does not close."""

from __future__ import annotations

from typing import Any

import numpy as np
import pandas as pd

from district.hydraulics.model import Flags
from district.isolate.graph import Closure, closure
from district.isolate.order import Stuck, in_order, valve_of
from district.isolate.piping import OUTSIDE
from district.isolate.segments import Segments
from district.isolate.sentences import failure_sentence
from district.isolate.weights import CRITICAL, loss_columns
from district.network import Network
from district.schema.isolate_tables import PLAN_FAILURES
from district.words import natural


def plan_failures(
    network: Network,
    segments: Segments,
    wanted: Flags,
    made: Closure,
    order: list[int],
    stuck: Stuck,
) -> pd.DataFrame:
    """Table PLAN_FAILURES: a row for each valve to shut, in `order`.

    Parameters: `wanted` (S) segments, `made` the closure for them with the valves `stuck` already.
    What lies behind the failed valve is shut off by the next valves around it; another valve at
    the same place takes its part if there is one.
    """
    graph, piping = segments.graph, segments.piping
    dry = made.shut_off | made.unintended
    already = set(sources_in(segments, made))
    again = [
        made
        if valve_of(piping, gate, stuck.not_turning)[1]
        else closure(graph, wanted, {*stuck.failed, gate})
        for gate in order
    ]
    # Ordered once for all: looking up a valve at a time is slow.
    every = np.unique(np.concatenate([np.zeros(0, dtype=np.int64), *(a.gates for a in again)]))
    rank = {g: n for n, g in enumerate(in_order(network, piping, every, stuck.not_turning))}
    rows: list[dict[str, Any]] = []
    extra = np.zeros((len(order), segments.weight.shape[1]))
    for row, (gate, other) in enumerate(zip(order, again, strict=True)):
        name, beside = valve_of(piping, gate, stuck.not_turning)
        added = sorted(set(other.gates.tolist()) - set(order), key=rank.__getitem__)
        dropped = set(order) - {gate, *other.gates.tolist()}
        also = [valve_of(piping, g, stuck.not_turning)[0] for g in added]
        no_longer = [valve_of(piping, g, stuck.not_turning)[0] for g in dropped]
        more = (other.shut_off | other.unintended) & ~dry
        extra[row] = segments.weight[more].sum(axis=0)
        sources = natural(set(sources_in(segments, other)) - already)
        rows.append(
            {
                "valve_id": name,
                "also_shut": ", ".join([*beside[:1], *also]),
                "no_longer": ", ".join(natural(no_longer)),
                "sources": ", ".join(sources),
                "more_users": ", ".join(natural(_critical(network, segments, more))),
            }
        )
    told = ["valve_id", "also_shut", "no_longer", "sources", "more_users"]
    table = pd.DataFrame(rows, columns=told).assign(**loss_columns(extra, "more"))
    table["said"] = [failure_sentence(row) for row in table.to_dict("records")]
    return table[list(PLAN_FAILURES.names())]


def sources_in(segments: Segments, made: Closure) -> tuple[str, ...]:
    """Sources that feed what is shut off with no valve between, or past one that does not close."""
    piping = segments.piping
    outlets = set(made.outlets.tolist())
    named: list[str] = []
    for name, node, gate in zip(
        piping.source_id, piping.source_node, piping.source_gate, strict=True
    ):
        inside = node != OUTSIDE and made.shut_off[segments.graph.node_segment[node]]
        if inside or int(gate) in outlets:
            named.append(name)
    return tuple(natural(named))


def _critical(network: Network, segments: Segments, more: Flags) -> list[str]:
    """Ids of critical connections in the segments that are `more` (S)."""
    taps = np.flatnonzero((segments.tap_weight[:, CRITICAL] > 0) & (segments.tap_pipe >= 0))
    own = taps[more[segments.graph.pipe_segment[segments.tap_pipe[taps]]]]
    return [str(name) for name in network.connections.index[own]]
