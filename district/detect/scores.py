"""How far a step that began some nights ago stands out of the noise: the likelihood ratio.

Generalised likelihood ratio of a step of unknown size and first night (Siegmund & Venkatraman
1995, Annals of Statistics 23, from memory), against a level that is itself known only from the
nights before, in noise of which each night carries a share over to the next.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from district.detect.baseline import Flags, Ints, Reals

BEFORE_NIGHTS = 6
"""A level needs so many nights before a step from it can be judged ..."""
AFTER_NIGHTS = 2
"""... and a step so many: one night, however high, tells nothing."""


@dataclass(frozen=True, eq=False)
class Whitened:
    """Flows made independent of the night before, of unit variance; 0 where not known.

    Each shape (..., nights, places): `flow` the whitened flow, `level` what a lasting level of
    1 L/s adds to it, `first` what a step of 1 L/s adds on its first night.
    """

    flow: Reals
    level: Reals
    first: Reals


def whitened(flow_l_s: Reals, known: Flags, *, carry_share: Reals, noise_l_s: Reals) -> Whitened:
    """Take off each night what it carries over from the night before.

    Parameters: `flow_l_s` and `known` shape (..., nights, places); `carry_share` shape (places,),
    `noise_l_s` shape (..., 1, places), above 0. After a missing night the flow stands alone.
    """
    earlier, follows = np.zeros_like(flow_l_s), np.zeros_like(known)
    earlier[..., 1:, :], follows[..., 1:, :] = flow_l_s[..., :-1, :], known[..., :-1, :]
    alone = np.sqrt(1 - carry_share**2)
    fresh = noise_l_s * alone
    unit = np.where(known, 1 / fresh, 0.0)
    level = np.where(follows, 1 - carry_share, alone) * unit
    first = np.where(follows, 1.0, alone) * unit
    flow = np.where(follows, flow_l_s - carry_share * earlier, flow_l_s * alone) * unit
    return Whitened(flow, level, first)


@dataclass(frozen=True, eq=False)
class Sums:
    """Running sums over nights, shape (..., nights + 1, places); row i holds those before i."""

    weight: Reals
    flow: Reals
    count: Reals


def running(white: Whitened, known: Flags) -> Sums:
    """Running sums of what `step_scores` needs."""

    def summed(values: Reals) -> Reals:
        shape = (*values.shape[:-2], values.shape[-2] + 1, values.shape[-1])
        sums = np.zeros(shape)
        np.cumsum(values, axis=-2, out=sums[..., 1:, :])
        return sums

    return Sums(
        summed(white.level**2), summed(white.level * white.flow), summed(known.astype(float))
    )


def step_scores(
    sums: Sums, white: Whitened, night: int, *, lags: Ints, memory_nights: int
) -> tuple[Reals, Ints]:
    """Size over standard error of steps that end with `night`, and the night each began.

    `lags` counts the nights since the step, its first included. The level before is taken from
    `memory_nights`. Shapes (..., lags, places) and (lags,); 0 where too few nights are known.
    """
    begin = night + 1 - lags
    begin = begin[begin >= 1]
    low = np.maximum(begin - memory_nights, 0)
    weight, flow, count = sums.weight, sums.flow, sums.count
    at, now = weight[..., begin, :], weight[..., night + 1, None, :]
    whole = np.maximum(now - weight[..., low, :], 1e-30)
    pull = (flow[..., night + 1, None, :] - flow[..., low, :]) / whole
    level, first = white.level[..., begin, :], white.first[..., begin, :]
    extra, after = first - level, now - at
    mixed = after + extra * level
    own = after + extra * (first + level)
    felt = flow[..., night + 1, None, :] - flow[..., begin, :] + extra * white.flow[..., begin, :]
    spread = np.maximum(own - mixed * mixed / whole, 1e-30)
    score = (felt - mixed * pull) / np.sqrt(spread)
    here = count[..., begin, :]
    enough = (here - count[..., low, :] >= BEFORE_NIGHTS) & (
        count[..., night + 1, None, :] - here >= AFTER_NIGHTS
    )
    return np.where(enough, score, 0.0), begin
