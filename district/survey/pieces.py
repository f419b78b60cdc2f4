"""The pieces a crew must walk, cut where ways meet."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
import pandas as pd

from district.hydraulics.model import Flags, Wholes
from district.network import Network
from district.survey.lines import Line, lines_of
from district.words import missing

_SHORT_M = 1.0
"""No piece is cut so near to its end."""
_LEAST_M = 0.01
_CUT_AT_MOST = 6
"""A piece is halved so often at most."""


@dataclass(frozen=True, eq=False)
class Piece:
    """One piece of a line, from one place along its stretch to another."""

    line: Line
    from_m: float
    to_m: float

    @property
    def length_m(self) -> float:
        """Laid length."""
        return self.to_m - self.from_m

    @property
    def probability_share(self) -> float:
        """Share of the zone's flow looked for on it."""
        return self.line.held(self.from_m, self.to_m)


def pieces_of(network: Network, stretches: pd.DataFrame, likelihood: pd.DataFrame) -> list[Piece]:
    """What is to be walked of the stretches in a set, whole: one piece a run of parts.

    Parameters: tables STRETCHES and LIKELIHOOD.
    """
    chosen = stretches[stretches["in_set"].fillna(False).astype(bool)].set_index("stretch_id")
    pieces = []
    for line in lines_of(network, likelihood, list(chosen.index)):
        row = chosen.loc[line.stretch_id]
        first, last = float(line.ends_m[0]), float(line.ends_m[-1])
        low = first if missing(row["from_m"]) else max(float(row["from_m"]), first)
        high = last if missing(row["to_m"]) else min(float(row["to_m"]), last)
        if high - low > _LEAST_M:
            pieces.append(Piece(line, low, high))
    return pieces


def meetings(network: Network) -> Flags:
    """Which nodes three or more parts of pipes meet at."""
    pipes = network.pipes
    ends: Wholes = np.concatenate(
        [pipes["start_position"].to_numpy(dtype=int), pipes["end_position"].to_numpy(dtype=int)]
    )
    return np.asarray(np.bincount(ends, minlength=len(network.nodes)) > 2)


def cut_where_ways_meet(pieces: Sequence[Piece], meets: Flags) -> list[Piece]:
    """The pieces cut at the nodes where others may be reached, so that a round may turn off."""
    cut = []
    for piece in pieces:
        inner = piece.line.ends_m[1:-1][meets[piece.line.node[1:-1]]]
        cut += _cut(piece, [float(m) for m in inner])
    return cut


def cut_to_fit(pieces: Sequence[Piece], fits: Callable[[Piece], bool]) -> list[Piece]:
    """The pieces, each that does not fit into a shift halved until it does, at the node nearest
    to its middle or, where it has none, at the middle."""
    done: list[Piece] = []
    waiting = [(piece, 0) for piece in reversed(pieces)]
    while waiting:
        piece, times = waiting.pop()
        if times == _CUT_AT_MOST or piece.length_m < 2 * _SHORT_M or fits(piece):
            done.append(piece)
            continue
        middle = (piece.from_m + piece.to_m) / 2
        nodes = piece.line.ends_m[1:-1]
        inside = nodes[np.abs(nodes - middle) < piece.length_m / 4]
        at = float(inside[np.argmin(np.abs(inside - middle))]) if len(inside) else middle
        waiting += [(half, times + 1) for half in reversed(_cut(piece, [at]))]
    return done


def _cut(piece: Piece, places_m: Sequence[float]) -> list[Piece]:
    inner = [m for m in places_m if piece.from_m + _SHORT_M < m < piece.to_m - _SHORT_M]
    ends = [piece.from_m, *sorted(inner), piece.to_m]
    return [Piece(piece.line, a, b) for a, b in pairwise(ends)]
