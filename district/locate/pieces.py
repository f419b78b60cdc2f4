"""The shortest walk that holds a leak, whole stretches or the pieces where it must be."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np

from district.break_rates import Reals
from district.hydraulics.model import Flags
from district.locate.pooling import Wholes
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
        of the set: probability, metres, and by how many it may be longer than the shortest of
        whole stretches and pieces.
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
    then taken first, and widened step by step towards the whole where the set needs more. One
    stretch is walked only as far as the set needs.
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
    _narrow(widest, inside, length, hold_share)
    taken, each = widest >= 0, np.arange(len(widest))
    last = np.where(taken, widest, len(low) - 1)
    begin, end = low[last, each], high[last, each]
    _trim(begin, end, np.flatnonzero(taken), probability, walk, hold_share)
    return Walked(
        chosen=taken,
        from_m=walk.begin_m[begin],
        to_m=walk.end_m[end - 1],
        likeliest_m=length[0],
        likeliest_share=inside[0],
        held_share=float((held[end] - held[begin])[taken].sum()),
        length_m=float((metres[end] - metres[begin])[taken].sum()),
        gap_m=gap,
    )


def _trim(
    begin: Wholes, end: Wholes, taken: Wholes, probability: Reals, walk: Walk, hold_share: float
) -> None:
    """Cut the ends of one piece in place, where the set still holds enough: the one that spares
    most. Without it a leak known to a pipe or two would lie in far more than the wanted share of
    sets."""
    length = walk.end_m - walk.begin_m
    held = sum(float(probability[begin[i] : end[i]].sum()) for i in taken)
    best, spared, cut = -1, 0.0, (0, 0)
    for i in taken:
        a, b, spare = int(begin[i]), int(end[i]), held - hold_share
        while b - a > 1:
            from_start = probability[a] * length[b - 1] <= probability[b - 1] * length[a]
            spot = a if from_start else b - 1
            if probability[spot] > spare:
                break
            spare -= probability[spot]
            a, b = (a + 1, b) if from_start else (a, b - 1)
        less = float(length[begin[i] : a].sum() + length[b : end[i]].sum())
        if less >= max(spared, SPARED_M):
            best, spared, cut = int(i), less, (a, b)
    if best >= 0:
        begin[best], end[best] = cut


def _narrow(widest: Wholes, inside: Reals, length: Reals, hold_share: float) -> None:
    """Narrow the pieces in place as far as the set still holds enough, the costliest first.

    The set may have taken the outer part of a piece without the inner one, which is walked too.
    """
    pieces = np.flatnonzero(widest > 0)
    taken = np.flatnonzero(widest >= 0)
    spare = float(inside[widest[taken], taken].sum()) - hold_share
    for i in pieces[np.argsort(-length[widest[pieces], pieces], kind="stable")]:
        for level in range(widest[i] - 1, -1, -1):
            lost = inside[widest[i], i] - inside[level, i]
            if lost > spare:
                break
            widest[i] = level
            spare -= lost


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
