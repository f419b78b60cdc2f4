"""Two leaks at once where one is looked for: how likely that is, and where both are."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from district.break_rates import Reals
from district.locate.spots import Evidence, Pairs
from district.locate.walk import Walk

TWO_SHARE = 0.1
"""Chance that what is seen as one leak is two, before the loggers are heard. Assumption."""
_OF_EACH = ("survey",)
"""Evidence that speaks of every leak there is; any other record is about one of two."""
_ALIKE = 1e-9


@dataclass(frozen=True, eq=False)
class TwoLeaks:
    """Two leaks, over n spots.

    two_share
        probability that there are two.
    larger, smaller (n)
        where each is, given that there are two; each sums to 1.
    by_flow (n)
        share of the flow of both that is at each spot.
    larger_share
        share of the flow that is the larger one's.
    """

    two_share: float
    larger: Reals
    smaller: Reals
    by_flow: Reals
    larger_share: float


def two_leaks(
    prior: Reals, single: Reals, pairs: Pairs, others: Sequence[Evidence], walk: Walk
) -> TwoLeaks:
    """Weigh two leaks against one, place by place.

    Parameters: `prior` and `single` (n, each sums to 1) where one leak is without and with all
    evidence; `others` the evidence beside the loggers. A record is about either of two leaks by
    their flows, a survey about both. Within its place a leak is where one leak would be.
    """
    place, places = pairs.place_of[walk.spot], len(pairs.one)
    inside = place >= 0
    place = place[inside]
    known = prior[inside]
    records = []
    for e in others:
        own = e.log_likelihood[walk.spot][inside]
        if e.kind in _OF_EACH:
            # It counts twice, so its scale counts: where nobody walked it is sure to hear nothing.
            known = known * np.exp(own - e.log_likelihood.max())
        else:
            records.append(np.exp(own - own.max()))
    weight = np.bincount(place, known, places).astype(float)
    top = max(float(pairs.one.max()), float(pairs.two.max()))
    part = pairs.first_share
    both = np.outer(weight, weight) * np.exp(pairs.two - top)
    alone = known
    for own in records:
        alone = alone * own
        mean = np.bincount(place, known * own, places) / np.maximum(weight, 1e-300)
        both = both * (part * mean[:, None] + (1 - part) * mean)
    one = float(np.bincount(place, alone, places) @ np.exp(pairs.one - top))
    two = float(both.sum())
    odds = TWO_SHARE * two, (1 - TWO_SHARE) * one
    chance = both / max(two, 1e-300)
    # Pairs of equal flows have no larger one: each is taken for it half the time.
    first_larger = chance * np.where(np.abs(part - 0.5) <= _ALIKE, 0.5, part > 0.5)

    at_place = np.bincount(place, single[inside], places)[place]
    within = np.where(
        at_place > 0,
        single[inside] / np.maximum(at_place, 1e-300),
        known / np.maximum(weight[place], 1e-300),
    )

    def at_spots(of_first: Reals, of_other: Reals) -> Reals:
        found = np.zeros(len(single))
        found[inside] = within * (of_first.sum(axis=1) + of_other.sum(axis=0))[place]
        return found

    return TwoLeaks(
        two_share=odds[0] / max(sum(odds), 1e-300),
        larger=at_spots(first_larger, chance - first_larger),
        smaller=at_spots(chance - first_larger, first_larger),
        by_flow=at_spots(chance * part, chance * (1 - part)),
        larger_share=float((chance * np.maximum(part, 1 - part)).sum()),
    )
