"""The spots of a zone in the order a crew meets them: by stretch, and along each."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
import pandas as pd

from district.break_rates import Reals
from district.locate.pooling import Wholes
from district.locate.spots import Spots
from district.words import natural_key


@dataclass(frozen=True, eq=False)
class Walk:
    """n spots on m stretches, stretch by stretch, each from its start to its end.

    spot (n)
        numbers of the spots in `Spots`.
    stretch (n)
        the stretch each is on, 0 to m - 1.
    stretch_number (m)
        their numbers in the whole district.
    first (m)
        where each stretch begins.
    begin_m, end_m (n)
        the length of stretch each spot stands for, from the stretch's start.
    """

    spot: Wholes
    stretch: Wholes
    stretch_number: Wholes
    first: Wholes
    begin_m: Reals
    end_m: Reals

    def length_m(self) -> Reals:
        """Length of each stretch, (m)."""
        return self.summed(self.end_m - self.begin_m)

    def summed(self, values: Reals) -> Reals:
        """Sum over the spots of each stretch, (m)."""
        return np.asarray(np.add.reduceat(values, self.first)) if len(self.first) else values


def whole_walk(spots: Spots, pipe_ids: pd.Index[Any], stretch_of_part: Wholes) -> Walk:
    """All spots by stretch; `pipe_ids` by position of pipe, `stretch_of_part` their stretches.

    Parts of a stretch follow each other as they are numbered ('P1/2' before 'P1/10').
    """
    turn = np.empty(len(pipe_ids), dtype=np.int64)
    names = [natural_key(str(name)) for name in pipe_ids]
    turn[sorted(range(len(names)), key=names.__getitem__)] = np.arange(len(names))
    stretch = stretch_of_part[spots.pipe]
    spot = np.lexsort((spots.share, turn[spots.pipe], stretch))
    return _measured(
        spot, stretch[spot], np.arange(stretch.max(initial=-1) + 1), spots.length_m[spot]
    )


def walk_of(whole: Walk, among: Any) -> Walk:
    """The walk of some stretches alone; `among` tells which, shape (stretches,)."""
    own = among[whole.stretch]
    number = np.cumsum(among) - 1
    return _measured(
        whole.spot[own],
        number[whole.stretch[own]],
        np.flatnonzero(among),
        (whole.end_m - whole.begin_m)[own],
    )


def quantiles_m(walk: Walk, probability: Reals, shares: tuple[float, ...]) -> Reals:
    """How far along its stretch the leak is, if it is there: shape (shares, stretches), in m.

    `probability` by spot, even over the length each stands for. A stretch without any probability
    is taken as even.
    """
    length = walk.end_m - walk.begin_m
    total = walk.summed(probability)[walk.stretch]
    even = length / np.maximum(walk.length_m()[walk.stretch], 1e-300)
    own = np.where(total > 0, probability / np.where(total > 0, total, 1), even)
    # Each stretch adds 1 to the sum, so that one search serves all.
    reached = np.cumsum(own)
    before = reached[walk.first] - own[walk.first]
    upto = np.append(before[1:], reached[-1:])
    found = []
    for share in shares:
        wanted = before + share * (upto - before)
        last = np.append(walk.first[1:], len(own)) - 1
        at = np.clip(np.searchsorted(reached, wanted), walk.first, last)
        into = (wanted - (reached[at] - own[at])) / np.maximum(own[at], 1e-300)
        found.append(walk.begin_m[at] + np.clip(into, 0, 1) * length[at])
    return np.array(found)


def _measured(spot: Wholes, stretch: Wholes, stretch_number: Wholes, length: Reals) -> Walk:
    first = np.flatnonzero(np.diff(stretch, prepend=-1))
    end = np.cumsum(length)
    start = (end - length)[first][stretch]
    return Walk(spot, stretch, stretch_number, first, end - length - start, end - start)
