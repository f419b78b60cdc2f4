"""The shortest walk that holds a leak, whole stretches or the pieces where it must be."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np

from district.hydraulics.model import Flags
from district.locate.pooling import Wholes
from district.locate.rates import Reals
from district.locate.search import shortest_set
from district.locate.walk import Walk

CORE_SHARE, CORE_TIMES, SPARED_M = 0.8, 3.0, 30.0
"""A crew is sent to a piece of a stretch only if it holds this much of the stretch's probability,
is this many times as likely a metre as the rest of it, and spares this much of the walk. Choices
of ours, so that a walk stays simple."""
_LEVELS = (0.5, 0.7, 0.85, 0.95, 1.0)
_WIDENED = 6


@dataclass(frozen=True, eq=False)
class Walked:
    """What to walk of m stretches.

    chosen (m), from_m, to_m (m)
        whether a stretch is in the set, and from where to where along it (the whole of it where
        it is not in the set).
    likeliest_m (m)
        how much of each stretch must be walked before most of its probability is passed: its
        piece, or the whole of it.
    likeliest_share (m)
        the probability that holds.
    held_share, length_m, gap_m
        of the set: probability, metres, and by how many it may be longer than the shortest.
    """

    chosen: Flags
    from_m: Reals
    to_m: Reals
    likeliest_m: Reals
    likeliest_share: Reals
    held_share: float
    length_m: float
    gap_m: float


def shortest_walk(walk: Walk, probability: Reals, *, hold_share: float) -> Walked:
    """The shortest walk that holds `hold_share` of the probability (n, sums to 1).

    A stretch is walked whole unless most of its probability lies on one piece of it; that piece is
    then taken first, and widened step by step towards the whole where the set needs more.
    """
    low, high = _nested(walk, probability, hold_share)
    held = np.append(0.0, np.cumsum(probability))
    metres = np.append(0.0, np.cumsum(walk.end_m - walk.begin_m))
    inside, length = held[high] - held[low], metres[high] - metres[low]
    more, longer = (np.diff(v, axis=0, prepend=0.0) for v in (inside, length))
    level, stretch = np.nonzero(np.diff(high - low, axis=0, prepend=0))
    chosen, gap = shortest_set(
        np.maximum(more[level, stretch], 0.0), longer[level, stretch], hold_share=hold_share
    )
    widest = np.full(len(walk.first), -1)
    np.maximum.at(widest, stretch[chosen], level[chosen])
    taken, each = widest >= 0, np.arange(len(widest))
    last = np.where(taken, widest, len(low) - 1)
    at, to = low[last, each], high[last, each]
    return Walked(
        chosen=taken,
        from_m=walk.begin_m[at],
        to_m=walk.end_m[to - 1],
        likeliest_m=length[0],
        likeliest_share=inside[0],
        held_share=float(inside[last, each][taken].sum()),
        length_m=float(length[last, each][taken].sum()),
        gap_m=gap,
    )


def _nested(walk: Walk, probability: Reals, hold_share: float) -> tuple[Wholes, Wholes]:
    """Pieces of each stretch within each other, the last the whole: first spot and the one after
    the last, shape (pieces, m)."""
    first = walk.first
    after = np.append(first[1:], len(probability))
    low, high = _cores(walk, probability, hold_share)
    lows, highs = [low], [high]
    metres = np.append(0.0, np.cumsum(walk.end_m - walk.begin_m))
    step = np.maximum((high - low + 1) // 2, 1)
    for _ in range(_WIDENED):
        low, high, step = np.maximum(low - step, first), np.minimum(high + step, after), 2 * step
        left = metres[after] - metres[first] - (metres[high] - metres[low])
        whole = left < SPARED_M
        low, high = np.where(whole, first, low), np.where(whole, after, high)
        lows.append(low)
        highs.append(high)
    return np.array([*lows, first]), np.array([*highs, after])


def _cores(walk: Walk, probability: Reals, hold_share: float) -> tuple[Any, Any]:
    """The piece of each stretch on which its leak must be, or the whole: first spot and the one
    after the last.

    Tried are the hulls of its spots that are in the likeliest spots of the zone, at several
    levels; the one that tells most (Kullback and Leibler's divergence from an even spread) stays.
    """
    first, count = walk.first, len(probability)
    after = np.append(first[1:], count)
    length = walk.end_m - walk.begin_m
    held, metres = (np.append(0.0, np.cumsum(v)) for v in (probability, length))
    all_p, all_m = held[after] - held[first], metres[after] - metres[first]
    order = np.argsort(-probability / np.maximum(length, 1e-9), kind="stable")
    passed = np.empty(count)
    passed[order] = np.cumsum(probability[order]) - probability[order]
    each = np.arange(count)
    low, high, best = first.copy(), after.copy(), np.zeros(len(first))
    for level in _LEVELS:
        among = passed < level * hold_share
        a = np.minimum.reduceat(np.where(among, each, count), first)
        b = np.maximum.reduceat(np.where(among, each + 1, 0), first)
        there = b > 0
        a, b = np.where(there, a, first), np.where(there, b, after)
        p, m = held[b] - held[a], metres[b] - metres[a]
        rest_p, rest_m = np.maximum(all_p - p, 0.0), all_m - m
        fits = (
            there
            & (rest_m >= SPARED_M)
            & (p >= CORE_SHARE * all_p)
            & (p * rest_m >= CORE_TIMES * rest_p * m)
        )
        tells = np.where(fits, _divergence(p, rest_p, m, rest_m), 0.0)
        better = tells > best
        low, high, best = (
            np.where(better, new, old) for new, old in ((a, low), (b, high), (tells, best))
        )
    return low, high


def _divergence(p: Reals, rest_p: Reals, m: Reals, rest_m: Reals) -> Reals:
    whole_p, whole_m = np.maximum(p + rest_p, 1e-300), np.maximum(m + rest_m, 1e-300)
    found = np.zeros(len(p))
    for part, length in ((p, m), (rest_p, rest_m)):
        x = part / whole_p
        found += x * np.log(np.maximum(x, 1e-300) / np.maximum(length / whole_m, 1e-300))
    return found
