"""Which nodes water can get to."""

from __future__ import annotations

import numpy as np
from scipy.sparse import csr_array
from scipy.sparse.csgraph import breadth_first_order

from district.hydraulics.model import Flags, Kind, Model


def reached_nodes(model: Model, passing: Flags) -> Flags:
    """Nodes (N) to which a way leads from a fixed head over the links (L) that are `passing`.

    A pump, check valve or reducing valve is a way from its start to its end only.
    """
    nodes = model.node_id.size
    sources = np.flatnonzero(~np.isnan(model.fixed_head_m))
    both = passing & (model.kind == Kind.PIPE)
    rows = np.r_[model.start[passing], model.end[both], np.full(sources.size, nodes)]
    columns = np.r_[model.end[passing], model.start[both], sources]
    ways = csr_array((np.ones(rows.size), (rows, columns)), shape=(nodes + 1, nodes + 1))
    order = breadth_first_order(ways, nodes, return_predecessors=False)
    reached = np.zeros(nodes + 1, dtype=bool)
    reached[order] = True
    return reached[:nodes]
