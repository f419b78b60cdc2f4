"""Where one leak is: prior times the likelihood of every piece of evidence, over the spots."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from scipy.special import logsumexp

from district.break_rates import Reals
from district.locate.spots import Evidence
from district.locate.two_leaks import TwoLeaks, two_leaks
from district.locate.walk import Walk


@dataclass(frozen=True, eq=False)
class Spread:
    """Where a leak is, over n spots of its zone.

    probability (n)
        share of its flow expected at each spot; sums to 1.
    single (n)
        where it is, given that it is one leak; sums to 1.
    two
        the same if it is two at once; None where that was not looked at.
    """

    probability: Reals
    single: Reals
    two: TwoLeaks | None = None


def spread(log_prior: Reals, evidence: Sequence[Evidence], walk: Walk) -> Spread:
    """The posterior over the spots of a walk.

    Parameters: `log_prior` (n) logarithm of the leaks expected at each spot, up to a constant;
    `evidence` about this one leak, over all spots of the network, at most one of it with pairs.
    Pieces of evidence are taken as independent of each other, given where the leak is.
    """
    heard = [e for e in evidence if e.used]
    single = _normal(log_prior + sum(e.log_likelihood[walk.spot] for e in heard))
    for e in heard:
        if e.pairs is not None:
            others = [o for o in heard if o is not e]
            two = two_leaks(_normal(log_prior), single, e.pairs, others, walk)
            probability = (1 - two.two_share) * single + two.two_share * two.by_flow
            return Spread(probability, single, two)
    return Spread(single, single)


def _normal(log_weight: Reals) -> Reals:
    return np.asarray(np.exp(log_weight - logsumexp(log_weight)))
