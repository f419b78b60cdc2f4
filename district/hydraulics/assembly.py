"""The sparse matrix of the nodes' balances: pattern once for a network, numbers each step."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
from scipy.sparse import csc_array, csr_array
from scipy.sparse.linalg import SuperLU, splu

from district.hydraulics.model import Model, Reals, Wholes

_SYMMETRIC = {"SymmetricMode": True}
_PIVOT = 0.0
"""Pivots stay on the diagonal: the matrix is of positive conductances, its diagonal dominant."""


@dataclass(frozen=True, eq=False)
class Pattern:
    """Where each link stands in the matrix of the junctions (those of N nodes without fixed head).

    Good for every model of the same links, ends and fixed heads, whatever its roughness, open
    links and demands.

    place (N)
        row of each node in the matrix, ordered for little fill; -1 where its head is fixed.
    indices, indptr
        of the matrix in columns.
    stamp (entries, 4 L + N)
        adds up what links (start-start, start-end, end-start, end-end) and nodes bring.
    meets (N, L)
        +1 where a link ends, -1 where it starts; self loops are left out.
    """

    place: Wholes
    indices: Wholes
    indptr: Wholes
    stamp: csr_array
    meets: csr_array

    @property
    def size(self) -> int:
        """Rows of the matrix."""
        return self.indptr.size - 1


def pattern_of(model: Model) -> Pattern:
    """The pattern of a model; the order of its rows is that SuperLU finds by minimum degree."""
    nodes, links = model.node_id.size, model.link_id.size
    free = np.isnan(model.fixed_head_m)
    place = np.where(free, np.cumsum(free) - 1, -1)
    count = int(free.sum())
    if count:
        rows, columns, _ = _entries(model, place)
        values = np.where(rows == columns, 1.0, -1.0)
        matrix = csc_array((values, (rows, columns)), shape=(count, count))
        matrix.setdiag(matrix.diagonal() + 2.0 * links)
        order = _factored(matrix.tocsc(), "MMD_AT_PLUS_A").perm_c
        place[free] = order
    rows, columns, brings = _entries(model, place)
    cells, entry = np.unique(columns * max(count, 1) + rows, return_inverse=True)
    stamp = csr_array((np.ones(entry.size), (entry, brings)), shape=(cells.size, 4 * links + nodes))
    indptr = np.searchsorted(cells, np.arange(count + 1) * max(count, 1))
    along = np.flatnonzero(model.start != model.end)
    meets = csr_array(
        (
            np.r_[np.ones(along.size), -np.ones(along.size)],
            (np.r_[model.end[along], model.start[along]], np.r_[along, along]),
        ),
        shape=(nodes, links),
    )
    return Pattern(
        place.astype(np.int64),
        (cells % max(count, 1)).astype(np.int32),
        indptr.astype(np.int32),
        stamp,
        meets,
    )


def factored(pattern: Pattern, forward: Reals, back: Reals, by_node: Reals) -> SuperLU:
    """The factors of the matrix of one step.

    forward (L): how much more flows for each m more at a link's start; back (L): how much less
    for each m more at its end; by_node (N): how much more leaves the network there.
    """
    data = pattern.stamp @ np.concatenate((forward, -back, -forward, back, by_node))
    matrix = csc_array((data, pattern.indices, pattern.indptr), shape=(pattern.size,) * 2)
    return _factored(matrix, "NATURAL")


def _entries(model: Model, place: Wholes) -> tuple[Wholes, Wholes, Wholes]:
    """Row, column and what of the stamp brings it, of every entry among junctions."""
    links = np.arange(model.link_id.size)
    s, e = place[model.start], place[model.end]
    nodes = np.arange(place.size)
    rows = np.concatenate((s, s, e, e, place))
    columns = np.concatenate((s, e, s, e, place))
    brings = np.concatenate([links + k * links.size for k in range(4)] + [nodes + 4 * links.size])
    kept = (rows >= 0) & (columns >= 0)
    kept[: 4 * links.size] &= np.tile(model.start != model.end, 4)
    return rows[kept], columns[kept], brings[kept]


def _factored(matrix: csc_array, order: str) -> Any:
    return splu(matrix, permc_spec=order, diag_pivot_thresh=_PIVOT, options=_SYMMETRIC)
