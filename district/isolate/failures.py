"""The plan again for each of its valves: what else to shut when it does not close."""

from __future__ import annotations

from typing import Any

import numpy as np
import pandas as pd

from district.hydraulics.model import Flags
from district.isolate.graph import Closure, closure
from district.isolate.order import Stuck, in_order, valve_of
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
    already = _sources(segments, made.shut_off)
    rows: list[dict[str, Any]] = []
    extra = np.zeros((len(order), segments.weight.shape[1]))
    for row, gate in enumerate(order):
        name, beside = valve_of(piping, gate, stuck.not_turning)
        more = np.zeros(graph.segments_count, dtype=bool)
        again, also, no_longer = made, beside[:1], []
        if not beside:
            again = closure(graph, wanted, {*stuck.failed, gate})
            added = np.setdiff1d(again.gates, made.gates)
            dropped = np.setdiff1d(made.gates, np.append(again.gates, gate))
            also = [
                valve_of(piping, g, stuck.not_turning)[0]
                for g in in_order(network, piping, added, stuck.not_turning)
            ]
            no_longer = [valve_of(piping, int(g), stuck.not_turning)[0] for g in dropped]
            more = (again.shut_off | again.unintended) & ~dry
        extra[row] = segments.weight[more].sum(axis=0)
        sources = natural(_sources(segments, again.shut_off) - already)
        rows.append(
            {
                "valve_id": name,
                "also_shut": ", ".join(also),
                "no_longer": ", ".join(natural(no_longer)),
                "sources": ", ".join(sources),
                "more_users": ", ".join(natural(_critical(network, segments, more))),
            }
        )
    told = ["valve_id", "also_shut", "no_longer", "sources", "more_users"]
    table = pd.DataFrame(rows, columns=told).assign(**loss_columns(extra, "more"))
    table["said"] = [failure_sentence(row) for row in table.to_dict("records")]
    return table[list(PLAN_FAILURES.names())]


def _sources(segments: Segments, shut_off: Flags) -> set[str]:
    return {str(s) for s in segments.table["sources"].to_numpy(dtype=object)[shut_off] if s}


def _critical(network: Network, segments: Segments, more: Flags) -> list[str]:
    """Ids of critical connections in the segments that are `more` (S)."""
    taps = np.flatnonzero((segments.tap_weight[:, CRITICAL] > 0) & (segments.tap_pipe >= 0))
    own = taps[more[segments.graph.pipe_segment[segments.tap_pipe[taps]]]]
    return [str(name) for name in network.connections.index[own]]
