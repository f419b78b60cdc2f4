"""Nights on which a step may have begun, each with how far a step from there stands out.

Generalised likelihood ratio of a jump in a linear system (Willsky & Jones 1976, IEEE Transactions
on Automatic Control 21, from memory): what a step of unit size would have added to each night's
surprise is known from the filter, its size is fitted to the surprises so far.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from district.detect.baseline import Flags, Ints, Reals
from district.detect.filter import LEVEL, Filter, Outlook, passed

AFTER_NIGHTS = 2
"""A step needs so many nights to be told: one night, however high, tells nothing."""
_RECENT, _OLDER, _EVERY = 12, 12, 4
"""Each of the last nights is tried, and every fourth of those before, two months back."""


@dataclass(eq=False)
class Onsets:
    """Arrays of shape (slots, places) or (slots, places, components), filled in place."""

    first: Ints  # night of each slot, shape (slots,); -1 where none
    answer: Reals  # what a step of one has moved the filter by so far
    pull: Reals  # surprise along the step ...
    weight: Reals  # ... and how much there is to it
    nights: Reals
    tried: Flags


def none_yet(places_count: int, components_count: int) -> Onsets:
    """Before the first night."""
    shape = (_RECENT + _OLDER, places_count)
    return Onsets(
        np.full(shape[0], -1, dtype=np.intp),
        np.zeros((*shape, components_count)),
        np.zeros(shape),
        np.zeros(shape),
        np.zeros(shape),
        np.zeros(shape, dtype=bool),
    )


def opened(o: Onsets, f: Filter, night: int, ready: Flags) -> None:
    """Let a night pass for all slots, and try this night as a first one at places `ready`."""
    passed(o.answer, f.carry_share)
    slot = night % _RECENT
    leaving = int(o.first[slot])
    if leaving >= 0 and leaving % _EVERY == 0:
        older = _RECENT + leaving // _EVERY % _OLDER
        for kept in (o.first, o.answer, o.pull, o.weight, o.nights, o.tried):
            kept[older] = kept[slot]
    o.first[slot] = night
    for fresh in (o.answer, o.pull, o.weight, o.nights):
        fresh[slot] = 0.0
    o.tried[slot] = ready


def felt(o: Onsets, outlook: Outlook, surprise: Reals, known: Flags) -> None:
    """Take in a night: `surprise` and `known` shape (places,), surprises limited."""
    here = np.where(known, 1 - np.einsum("spc,pc->sp", o.answer, outlook.design), 0.0)
    o.pull += here * (surprise / outlook.variance)
    o.weight += here * here / outlook.variance
    o.nights += known
    o.answer += here[:, :, None] * outlook.gain


def likeliest(o: Onsets) -> tuple[Reals, Ints]:
    """Of each place the step that stands out most: size over its error, in the noise, and slot."""
    fit = o.tried & (o.nights >= AFTER_NIGHTS)
    score = np.where(fit, o.pull / np.sqrt(np.maximum(o.weight, 1e-9)), 0.0)
    slot = np.abs(score).argmax(axis=0)
    return score[slot, np.arange(score.shape[1])], slot


def stepped(o: Onsets, f: Filter, place: int, slot: int) -> None:
    """Take the step of `slot` into the filter of `place`, which has followed it in part already;
    nights before it are no longer tried."""
    moved = -o.answer[slot, place]
    moved[LEVEL] += 1.0
    weight = o.weight[slot, place]
    f.mean[place] += moved * o.pull[slot, place] / weight
    f.cov[place] += np.outer(moved, moved) / weight
    o.tried[:, place] = False
