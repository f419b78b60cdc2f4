"""The order in which a crew takes the stretches, and which piece of each it walks."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np
import pandas as pd

from district.break_rates import Reals
from district.hydraulics.model import Flags
from district.locate.pooling import Wholes
from district.locate.spots import Spots
from district.locate.walk import Walk
from district.locate.zone_search import ZoneSearch

_AT_LEAST_M = 30.0
"""A piece shorter than this counts as this long in the order: a crew has to get there too."""


def walk_columns(
    whole: Walk, names: Any, probability: Reals, searches: Sequence[ZoneSearch]
) -> pd.DataFrame:
    """By stretch: in_set, from_m and to_m (empty outside the set), sought_ids, and density.

    Parameters: `whole` the walk of all stretches, `names` and `probability` by stretch. A stretch
    that is in the sets of several leaks is walked over the hull of their pieces. `density` is the
    probability passed for each metre: of the piece where a leak must be on one, else of the whole.
    """
    count, length = len(names), np.maximum(whole.length_m(), 1e-9)
    density = probability / length
    in_set = np.zeros(count, dtype=bool)
    begin, end = np.full(count, np.nan), np.full(count, np.nan)
    ids: list[list[str]] = [[] for _ in range(count)]
    for search in searches:
        own, together = search.walk.stretch_number, search.together
        piece = np.maximum(together.likeliest_m, np.minimum(length[own], _AT_LEAST_M))
        density[own] = together.likeliest_share / piece
        for found in search.leaks:
            taken = own[found.walked.chosen]
            in_set[taken] = True
            begin[taken] = np.fmin(begin[taken], found.walked.from_m[found.walked.chosen])
            end[taken] = np.fmax(end[taken], found.walked.to_m[found.walked.chosen])
            for stretch in taken:
                if found.sought.sought_id not in ids[stretch]:
                    ids[stretch].append(found.sought.sought_id)
    return pd.DataFrame(
        {
            "in_set": in_set,
            "from_m": begin,
            "to_m": end,
            "sought_ids": [", ".join(each) for each in ids],
            "density": density,
        },
        index=pd.Index(names, name="stretch_id"),
    )


def ranked(density: Reals, flow_l_s: Reals, searched: Flags, names: Any) -> Reals:
    """Rank of each stretch: zones with a search first, then by flow found for each metre.

    All parameters by stretch: `flow_l_s` looked for in its zone, NaN where not known.
    """
    found = np.nan_to_num(flow_l_s) * density
    return numbered(np.lexsort((names, -density, -found, ~searched)))


def numbered(order: Wholes) -> Reals:
    """1, 2, ... in the given order."""
    rank = np.empty(len(order), dtype=float)
    rank[order] = np.arange(1, len(order) + 1)
    return rank


def parts_in_set(whole: Walk, spots: Spots, to_walk: pd.DataFrame) -> Flags:
    """Whether some of each part is walked; `to_walk` as `walk_columns` gives it."""
    begin, end = (to_walk[c].to_numpy()[whole.stretch] for c in ("from_m", "to_m"))
    # Half a metre, so that a piece that ends where a part ends is not on the next one.
    passed = (whole.end_m > begin + 0.5) & (whole.begin_m < end - 0.5)
    short = to_walk["in_set"].to_numpy()[whole.stretch] & (end - begin < 1.0)
    count = int(spots.pipe.max(initial=-1)) + 1
    return np.asarray(np.bincount(spots.pipe[whole.spot], passed | short, count) > 0)
