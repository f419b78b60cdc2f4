"""What a section costs a crew to listen to, once a step test has told that the leak is in it.

The crew walks the likeliest pipe first. In a section D the leak is reached after the length of
D's pipes that rank before it and half of its own pipe, so that the expected walk is the sum over
ranks r of p_r (l_1 + ... + l_(r-1) + l_r / 2), with p_r the probability and l_r the length of rank
r in D. Ranks are classes of likelihood by metre over the whole zone. A reading that tells the wrong
section leaves the walk over the whole zone. All that this needs adds up over segments.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
from scipy.special import ndtr

from district.hydraulics.model import Reals, Wholes
from district.hydraulics.stepping import LEAST_SD_L_S, NightUse

RANKS = 8


@dataclass(frozen=True, eq=False)
class Weighing:
    """What adds up over segments, and what the meter can tell.

    features (n, 2 RANKS + 3)
        by segment: probability and length (m) by rank, the part of the whole zone's walk (m) that
        is due to a leak in it, the variance by chance of what it uses, and the standard deviation
        of what is known of that, which is off the same way in all segments.
    flow_l_s
        flow of the leak.
    read_sd_l_s
        standard deviation of the difference of two flows read.
    """

    features: Reals
    flow_l_s: float
    read_sd_l_s: float


def weighed(
    segment: Wholes,
    probability: Reals,
    length_m: Reals,
    use: NightUse,
    *,
    flow_l_s: float,
    read_sd_l_s: float,
) -> Weighing:
    """Features of n segments from what their pipes hold.

    Parameters: `segment`, `probability` and `length_m` (P) by pipe of the zone; `use` of
    the segments.
    Probability is brought to a sum of 1; where there is none it goes by length.
    """
    own = segment >= 0
    number, metres = segment[own], length_m[own]
    likely = np.where(np.isfinite(probability[own]), probability[own], 0.0)
    likely = likely if likely.sum() > 0 else metres
    likely = likely / likely.sum()
    order, _ = ranked(likely, metres)
    rank = np.minimum((np.cumsum(likely[order]) - likely[order] / 2) * RANKS, RANKS - 1)
    rank_of = np.empty(len(order), dtype=np.int64)
    rank_of[order] = rank.astype(np.int64)
    count = len(use.use_l_s)
    features = np.zeros((count, 2 * RANKS + 3))
    np.add.at(features, (number, rank_of), likely)
    np.add.at(features, (number, RANKS + rank_of), metres)
    by_rank = features[:, :RANKS].sum(axis=0), features[:, RANKS : 2 * RANKS].sum(axis=0)
    begins = np.cumsum(by_rank[1]) - by_rank[1] / 2
    # By rank as in a section, so that a section that is the whole zone walks as far.
    features[:, 2 * RANKS] = features[:, :RANKS] @ begins
    features[:, 2 * RANKS + 1] = use.drawn_sd_l_s**2
    features[:, 2 * RANKS + 2] = use.known_sd_l_s
    return Weighing(features, flow_l_s, read_sd_l_s)


def ranked(likely: Reals, metres: Reals) -> tuple[Wholes, Reals]:
    """Pipes by likelihood by metre, the likeliest first, and the length walked before each."""
    order = np.argsort(-likely / np.maximum(metres, 1e-6), kind="stable")
    return order, np.cumsum(metres[order]) - metres[order]


def walk_m(features: Any) -> Reals:
    """Probability of a section times the walk in it: metres, by the last axis of `features`."""
    likely, metres = features[..., :RANKS], features[..., RANKS : 2 * RANKS]
    before = np.cumsum(metres, axis=-1) - metres / 2
    return np.asarray((likely * before).sum(axis=-1))


def wrong_share(weighing: Weighing, features: Any) -> Reals:
    """Chance that a section's reading tells the wrong of leak and no leak, the limit halfway.

    Both errors are alike: the share of a normal beyond half of the leak's flow.
    """
    sd = np.sqrt(
        weighing.read_sd_l_s**2
        + np.maximum(features[..., -2], 0.0)
        + features[..., -1] ** 2
        + LEAST_SD_L_S**2
    )
    return np.asarray(ndtr(-weighing.flow_l_s / (2 * sd)))


def cost_m(weighing: Weighing, features: Any) -> Reals:
    """Expected metres to listen along due to a leak in a section, its probability included.

    Never less for a section with more in it, and never less for two sections taken as one than for
    both apart.
    """
    wrong = wrong_share(weighing, features)
    return np.asarray((1 - wrong) * walk_m(features) + wrong * features[..., 2 * RANKS])
