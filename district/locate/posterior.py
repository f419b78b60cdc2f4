"""Where one leak is: prior times the likelihood of every piece of evidence, over the spots."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from district.locate.rates import Reals
from district.locate.spots import Evidence, Pairs
from district.locate.walk import Walk

TWO_SHARE = 0.1
"""Chance that what is seen as one leak is two, before the loggers are heard. Assumption."""
_OF_EACH = ("survey",)
"""Evidence that speaks of every leak there is; any other record is about one of two."""


@dataclass(frozen=True, eq=False)
class Spread:
    """Where a leak is, over n spots of its zone; each sums to 1.

    probability (n)
        share of its flow expected at each spot.
    single (n)
        where it is, given that it is one leak.
    two_share
        probability that it is two leaks at once.
    larger, smaller (n)
        where each of the two is, given that there are two.
    larger_share
        share of the flow that is the larger one's, given that there are two.
    """

    probability: Reals
    single: Reals
    two_share: float = 0.0
    larger: Reals | None = None
    smaller: Reals | None = None
    larger_share: float = 1.0


def spread(log_prior: Reals, evidence: Sequence[Evidence], walk: Walk) -> Spread:
    """The posterior over the spots of a walk.

    Parameters: `log_prior` (n) logarithm of the leaks expected at each spot, up to a constant;
    `evidence` about this one leak, over all spots of the network, at most one of it with pairs.
    Pieces of evidence are taken as
    independent of each other, given where the leak is.
    """
    heard = [e for e in evidence if e.used]
    prior = log_prior - _log_sum(log_prior)
    one = prior + sum(e.log_likelihood[walk.spot] for e in heard)
    for e in heard:
        if e.pairs is not None:
            return _with_pairs(prior, one, e.pairs, [o for o in heard if o is not e], walk)
    single = np.exp(one - _log_sum(one))
    return Spread(single, single)


def _with_pairs(
    prior: Reals, one: Reals, pairs: Pairs, others: list[Evidence], walk: Walk
) -> Spread:
    """The same with the chance that it is two leaks."""
    place = np.full(int(max(walk.spot.max(), pairs.first.max(), pairs.other.max())) + 1, -1)
    place[walk.spot] = np.arange(len(walk.spot))
    rows, columns = (np.flatnonzero(place[s] >= 0) for s in (pairs.first, pairs.other))
    first, other = place[pairs.first[rows]], place[pairs.other[columns]]
    part = np.clip(pairs.first_share[np.ix_(rows, columns)], 1e-6, 1 - 1e-6)
    two = pairs.log_likelihood[np.ix_(rows, columns)] + prior[first][:, None] + prior[other]
    for e in others:
        own = e.log_likelihood[walk.spot]
        a, b = own[first][:, None], own[other]
        two += a + b if e.kind in _OF_EACH else np.logaddexp(np.log(part) + a, np.log1p(-part) + b)
    # A pair whose second spot is not among the first ones stands once, any other twice.
    two += np.where(np.isin(other, first), 0.0, np.log(2.0))
    log_one, log_two = _log_sum(one) + np.log(1 - TWO_SHARE), _log_sum(two) + np.log(TWO_SHARE)
    two_share = float(np.exp(log_two - np.logaddexp(log_one, log_two)))
    weight = np.exp(two - _log_sum(two))
    count = len(walk.spot)

    def at(of_first: Reals, of_other: Reals) -> Reals:
        found = np.bincount(first, of_first.sum(axis=1), count)
        return np.asarray(found + np.bincount(other, of_other.sum(axis=0), count))

    more = part >= 0.5
    by_flow = at(weight * part, weight * (1 - part))
    single = np.exp(one - _log_sum(one))
    return Spread(
        probability=(1 - two_share) * single + two_share * by_flow,
        single=single,
        two_share=two_share,
        larger=at(np.where(more, weight, 0.0), np.where(more, 0.0, weight)),
        smaller=at(np.where(more, 0.0, weight), np.where(more, weight, 0.0)),
        larger_share=float((weight * np.maximum(part, 1 - part)).sum()),
    )


def _log_sum(values: Reals) -> float:
    most = float(values.max())
    return most + float(np.log(np.exp(values - most).sum())) if np.isfinite(most) else most
