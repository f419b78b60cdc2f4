"""Noise of nights about their level, learnt from the nights so far, all places at once."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from district.detect.baseline import Flags, Reals

_TO_SIGMA = 1.482602218505602  # MAD of a normal variable, to its standard deviation
_CORE = 3.0  # the noise is that of nights within three of it
_ROUNDS = 3
_YOUNG_NIGHTS = 42
"""With fewer nights the noise is taken from differences between neighbours."""
_CARRY, _CARRY_NIGHTS, _MOST_CARRY = 0.3, 40.0, 0.7
"""Correlation of nights taken as usual, for how many nights that speaks, and the most believed."""
_UNSURE, _FIRST_COUNT = 600.0, 12.0


@dataclass(frozen=True, eq=False)
class Spread:
    """Noise of each place.

    core_l_s
        shape (places,): standard deviation of nights within three of it.
    noise_l_s
        shape (clips, places): of nights limited to so many of these, a little larger where few
        nights are known.
    carry_share
        shape (places,): correlation of one night with the next.
    """

    core_l_s: Reals
    noise_l_s: Reals
    carry_share: Reals


def unknown(places_count: int, clips: tuple[float, ...]) -> Spread:
    """The noise before any night."""
    none = np.zeros(places_count)
    return Spread(none, np.zeros((len(clips), places_count)), none + _CARRY)


def learnt(
    apart_l_s: Reals,
    flow_l_s: Reals,
    known: Flags,
    before: Spread,
    *,
    clips: tuple[float, ...],
    floor_l_s: float,
    memory_nights: int,
) -> Spread:
    """The noise by the nights so far.

    Parameters: `apart_l_s` how far each night lay from the level before it (NaN where not told),
    `flow_l_s` the flows less their rhythm, `known` whether they count; each shape
    (nights, places). A level from `memory_nights` nights hides a little of the correlation.
    """
    told = np.isfinite(apart_l_s)
    count = told.sum(axis=0)
    apart = np.where(told, apart_l_s, 0.0)
    young = np.flatnonzero((count < _YOUNG_NIGHTS) | (before.core_l_s <= 0))
    core = before.core_l_s.copy()
    core[young] = _rough(flow_l_s[:, young], known[:, young])
    counted = np.maximum(count, 1)

    def clipped(clip: float) -> Reals:
        return np.asarray(np.clip(apart, -clip * core, clip * core))

    old = count >= _YOUNG_NIGHTS
    for _ in range(_ROUNDS):
        core = np.where(old, np.sqrt((clipped(_CORE) ** 2).sum(axis=0) / counted), core)
    core = np.maximum(core, floor_l_s)
    unsure = np.sqrt(1 + _UNSURE / (count + _FIRST_COUNT) ** 2)
    noise = [np.where(old, np.sqrt((clipped(c) ** 2).sum(axis=0) / counted), core) for c in clips]
    kept = clipped(_CORE)
    prior = _CARRY_NIGHTS * core**2
    cross = (kept[1:] * kept[:-1]).sum(axis=0) + _CARRY * prior
    whole = (kept**2).sum(axis=0) + prior
    carry = np.where(whole > 0, cross / np.where(whole > 0, whole, 1.0), _CARRY)
    return Spread(
        core,
        np.maximum(np.stack(noise) * unsure, floor_l_s),
        np.clip(carry + 1 / memory_nights, 0.0, _MOST_CARRY),
    )


def _rough(flow_l_s: Reals, known: Flags) -> Reals:
    """From differences between neighbours, so that a slope or step hardly counts."""
    both = known[1:] & known[:-1]
    apart = np.where(both, np.abs(np.diff(flow_l_s, axis=0)), np.inf)
    count = both.sum(axis=0)
    if not apart.size:
        return np.zeros(flow_l_s.shape[1])
    ordered = np.sort(apart, axis=0)
    at = np.clip(count // 2, 0, len(ordered) - 1)
    middle = np.where(count > 0, ordered[at, np.arange(ordered.shape[1])], 0.0) * _TO_SIGMA
    inside = both & (apart <= 3 * middle)
    squares = np.where(inside, np.where(both, apart, 0.0) ** 2, 0.0).sum(axis=0)
    within = np.maximum(inside.sum(axis=0), 1)
    return np.asarray(np.sqrt(squares / within / 2 * (1 + 1 / within)))
