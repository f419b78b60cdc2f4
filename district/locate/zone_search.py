"""One zone's search: where each leak looked for in it is, and what to walk for it."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
import pandas as pd

from district.break_rates import Reals
from district.locate.pieces import Walked, shortest_walk
from district.locate.posterior import spread
from district.locate.several import told_apart
from district.locate.spots import Evidence, Sought
from district.locate.walk import Walk
from district.locate.weighed import evidence_rows

TWO_FROM_SHARE = 0.5
"""A leak is reported as two where that is likelier than one."""


@dataclass(frozen=True, eq=False)
class Found:
    """One leak: how much it loses, and where it is over the n spots of its zone."""

    sought: Sought
    leak: str
    """'' or, where what was looked for is taken for two leaks, larger or smaller."""
    flow_l_s: Reals
    """Middle, lower and upper limit."""
    probability: Reals
    walked: Walked


@dataclass(frozen=True, eq=False)
class ZoneSearch:
    """The leaks of one zone, the order to walk it in, and rows of table EVIDENCE.

    flow_share (leaks)
        each leak's share of the flow looked for.
    probability (n)
        where they are together, each in proportion to its flow.
    together
        the walk by that.
    """

    cell_id: str
    walk: Walk
    leaks: tuple[Found, ...]
    flow_share: Reals
    probability: Reals
    together: Walked
    evidence: list[dict[str, Any]]


def search_zone(
    cell_id: str,
    walk: Walk,
    log_prior: Reals,
    leaks: Sequence[Sought],
    evidence: Mapping[str, Sequence[Evidence]],
    *,
    prior_said: str,
    hold_share: float,
) -> ZoneSearch:
    """Locate the leaks looked for in one zone.

    Parameters: `log_prior` (n) logarithm of the leaks expected at the spots of `walk`; `evidence`
    by sought_id, over all spots of the network.
    """
    told = told_apart(leaks, evidence, log_prior, walk)
    found: list[Found] = []
    rows: list[dict[str, Any]] = []
    for sought in leaks:
        own = told[sought.sought_id]
        found += _found(sought, log_prior, own, walk, hold_share)
        rows += evidence_rows(
            sought, log_prior, own, walk, prior_said=prior_said, hold_share=hold_share
        )
    flow = np.array([f.flow_l_s[0] for f in found])
    share = flow / flow.sum() if flow.sum() > 0 else np.full(len(flow), 1 / len(flow))
    probability = np.asarray(share @ np.array([f.probability for f in found]))
    together = shortest_walk(walk, probability, hold_share=hold_share)
    return ZoneSearch(cell_id, walk, tuple(found), share, probability, together, rows)


def _found(
    sought: Sought, log_prior: Reals, evidence: Sequence[Evidence], walk: Walk, hold_share: float
) -> list[Found]:
    flow = np.array([sought.flow_l_s, sought.flow_l_s_low, sought.flow_l_s_high])
    where = spread(log_prior, evidence, walk)
    each = [("", 1.0, where.probability)]
    two = where.two
    if two is not None and two.two_share >= TWO_FROM_SHARE:
        one = (1 - two.two_share) * where.single
        each = [
            ("larger", two.larger_share, one + two.two_share * two.larger),
            ("smaller", 1 - two.larger_share, one + two.two_share * two.smaller),
        ]
    return [
        Found(
            sought,
            leak,
            share * flow,
            probability,
            shortest_walk(walk, probability, hold_share=hold_share),
        )
        for leak, share, probability in each
    ]


def set_rows(search: ZoneSearch) -> pd.DataFrame:
    """Rows of table SEARCH_SETS."""
    mains_m = float(search.walk.length_m().sum())
    return pd.DataFrame(
        [
            {
                "sought_id": f.sought.sought_id,
                "leak": f.leak,
                "cell_id": search.cell_id,
                "start": pd.Timestamp(f.sought.start) if f.sought.start else pd.NaT,
                **dict(zip(("flow_l_s", "flow_l_s_low", "flow_l_s_high"), f.flow_l_s, strict=True)),
                "held_share": f.walked.held_share,
                "pipes_count": float(f.walked.chosen.sum()),
                "set_km": f.walked.length_m / 1000,
                "mains_km": mains_m / 1000,
                "set_share": f.walked.length_m / mains_m if mains_m > 0 else 1.0,
                "gap_m": f.walked.gap_m,
            }
            for f in search.leaks
        ]
    )
