"""What of the valves is worth knowing before anything breaks."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import replace

import numpy as np
import pandas as pd

from district.errors import Finding
from district.isolate.graph import SegmentGraph
from district.isolate.piping import Piping
from district.network import Network
from district.words import brief, places, plural


def findings_of(
    piping: Piping,
    graph: SegmentGraph,
    segments: pd.DataFrame,
    *,
    files: Mapping[str, str] | None = None,
) -> list[Finding]:
    """Segments that cannot be shut off without shutting a source; valves that part nothing.

    `segments`: table SEGMENTS.
    """
    source = (files or {}).get("valves", "valves")
    found = []
    for row in segments[segments["sources"] != ""].itertuples(index=False):
        none = row.valves_count == 0
        found.append(
            Finding(
                "warning" if none else "note",
                source,
                f"segment {row.segment_id}",
                got=("no valve" if none else "valves towards the rest, but none")
                + f" between {plural(row.pipes_count, 'part')} of pipes "
                f"({brief(row.length_m)} m) and source {row.sources}",
                expected="a valve that a crew can turn at the outlet of every source",
                remedy="Draw the valve that is there, or plan for the source itself to be shut "
                "when these pipes break",
            )
        )
    same = (graph.gate_first == graph.gate_second) & piping.gate_open
    idle = [v for gate in np.flatnonzero(same) for v in piping.gate_valves[gate]]
    if idle:
        found.append(
            Finding(
                "note",
                source,
                places("valve", idle),
                got="the same segment on both sides: shut, "
                + ("it parts" if len(idle) == 1 else "they part")
                + " nothing without one more valve",
                expected="another segment on each side",
                remedy="Check whether a valve near by is missing on the map or cannot be turned",
                count=len(idle),
            )
        )
    return found


def without_stuck(network: Network, valve_ids: Iterable[str]) -> Network:
    """The network with these valves as ones that no crew can turn; unknown ids are passed over.

    One that stands shut on the map parts the water as before.
    """
    stuck = network.valves.index.astype(str).isin({str(v) for v in valve_ids})
    turns = network.valves["operable"].mask(stuck, False)
    return replace(network, valves=network.valves.assign(operable=turns))
