"""The streets of a drawn zone: a bent grid on which some blocks are open and streets end dead."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.sparse import coo_array
from scipy.sparse.csgraph import minimum_spanning_tree

from district.hydraulics.model import Reals, Wholes
from district.simulate.streets import bend


@dataclass(frozen=True, eq=False)
class Streets:
    """A connected zone of mains.

    place_m (N, 2)
        metres east and north.
    start (P), end (P)
        nodes at the ends of each main, one main between two crossings.
    gates
        the nodes through which it is fed, at its edge.
    """

    place_m: Reals
    start: Wholes
    end: Wholes
    gates: Wholes

    def length_m(self) -> Reals:
        """Length of each main, (P)."""
        return np.asarray(np.hypot(*(self.place_m[self.end] - self.place_m[self.start]).T))


def draw_streets_of_zone(
    rng: np.random.Generator,
    *,
    pipes_count: int,
    loops_share: float,
    block_m: float,
    gates_count: int,
) -> Streets:
    """Draw a zone of just `pipes_count` mains, of which `loops_share` close loops.

    Mains are the streets of a grid of nearly square outline, blocks of about `block_m`. A tree
    keeps all crossings joined, long straight streets first, as towns are laid out; then streets
    are added that close loops. At 0.17 a crossing has 2.4 mains on average.

    Raises `ValueError` where the grid has not that many streets.
    """
    loops = round(loops_share * pipes_count)
    nodes = pipes_count - loops + 1
    columns = max(2, int(np.ceil(np.sqrt(nodes))))
    column, row = np.arange(nodes) % columns, np.arange(nodes) // columns
    ahead = np.flatnonzero(column < columns - 1)
    ahead = ahead[ahead + 1 < nodes]
    up = np.arange(max(0, nodes - columns))
    start, end = np.concatenate([ahead, up]), np.concatenate([ahead + 1, up + columns])
    if len(start) < pipes_count:
        raise ValueError(f"at most {len(start)} mains on {nodes} crossings, not {pipes_count}")
    # A street is wanted or not over its whole run; chance decides the rest.
    street = np.concatenate([row[ahead], row.max() + 1 + column[up]])
    wanted = rng.uniform(0.2, 1.0, street.max() + 1)[street] + rng.uniform(0.0, 0.5, len(start))
    tree = minimum_spanning_tree(coo_array((wanted, (start, end)), shape=(nodes, nodes)).tocsr())
    kept = np.zeros(len(start), dtype=bool)
    among = {(int(a), int(b)): n for n, (a, b) in enumerate(zip(start, end, strict=True))}
    kept[[among[int(a), int(b)] for a, b in zip(*tree.nonzero(), strict=True)]] = True
    spare = np.flatnonzero(~kept)
    kept[rng.choice(spare, size=pipes_count - int(kept.sum()), replace=False)] = True
    place = np.column_stack([column, row]) * block_m
    place = bend(place + rng.uniform(-0.25, 0.25, (nodes, 2)) * block_m)
    return Streets(place, start[kept], end[kept], _gates(rng, place, gates_count))


def _gates(rng: np.random.Generator, place_m: Reals, count: int) -> Wholes:
    """Nodes at the edge, the second on the other side of the middle from the first."""
    middle = place_m.mean(axis=0)
    turn = rng.uniform(0.0, 2 * np.pi) + np.arange(count) * np.pi * rng.uniform(0.6, 1.0)
    aims = np.column_stack([np.cos(turn), np.sin(turn)])
    return np.asarray([int(np.argmax((place_m - middle) @ aim)) for aim in aims], dtype=np.int64)
