"""What a step test would leave hanging on a check or reducing valve alone."""

from __future__ import annotations

from collections.abc import Collection

import numpy as np

from district.hydraulics.model import Flags
from district.isolate.graph import labels
from district.isolate.piping import OUTSIDE, Piping


def doubtful_pipes(piping: Piping, shut: Collection[int]) -> Flags:
    """Pipes (P) that water reaches with the gates `shut` only past check or reducing valves, while
    it reaches them otherwise now: the map does not tell which way such a valve passes water.
    """
    if not piping.acting_valve and not any(piping.gate_acting):
        return np.zeros(len(piping.start), dtype=bool)
    now, nothing = _reached(piping, (), past_acting=False), set(shut)
    plainly, anyhow = (_reached(piping, nothing, past_acting=p) for p in (False, True))
    return np.asarray((now & ~plainly & anyhow)[piping.start], dtype=bool)


def _reached(piping: Piping, shut: Collection[int], *, past_acting: bool) -> Flags:
    supply = piping.nodes_count
    gate_end = np.where(piping.gate_end == OUTSIDE, supply, piping.gate_end)
    on = piping.gate_open.copy()
    on[list(shut)] = False
    if not past_acting:
        on &= np.array([not name for name in piping.gate_acting], dtype=bool)
    enters = piping.source_node[piping.source_node != OUTSIDE]
    rows = [piping.start, piping.gate_start[on], enters]
    columns = [piping.end, gate_end[on], np.full(len(enters), supply)]
    if past_acting:
        rows.append(piping.acting_start)
        columns.append(piping.acting_end)
    label = labels(supply + 1, np.concatenate(rows), np.concatenate(columns))
    return np.asarray(label[:supply] == label[supply], dtype=bool)
