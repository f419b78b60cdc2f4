"""How far a crew would walk to a leak that has not come yet, by what its readings would tell."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
from scipy.special import ndtr

from district.break_rates import Reals
from district.locate.pooling import Wholes

Singles = np.ndarray[Any, np.dtype[np.float32]]
_ROWS = 256  # leaks at a time: what is held at once is this many times the pipes
_ALIKE = 1e-6


@dataclass(frozen=True, eq=False)
class Contrasts:
    """How unlike the signs of J leaks are to those of K other pipes; the sum of two is that of
    both sets of readings together.

    A sign is what a leak of 1 L/s does to the readings, in units of their noise and free of
    correlation. Signs are held about their mean, so that like ones differ exactly.

    product (J, K), leak_square (J), other_square (K)
        products of the signs about their mean.
    leak_tilt (J), other_tilt (K)
        products of those with the mean.
    leak_size (J)
        squares of the signs themselves.
    """

    product: Singles
    leak_square: Singles
    other_square: Singles
    leak_tilt: Singles
    other_tilt: Singles
    leak_size: Singles

    def __add__(self, more: Contrasts) -> Contrasts:
        return Contrasts(
            self.product + more.product,
            self.leak_square + more.leak_square,
            self.other_square + more.other_square,
            self.leak_tilt + more.leak_tilt,
            self.other_tilt + more.other_tilt,
            self.leak_size + more.leak_size,
        )


def contrasts(signs: Reals | Singles, leaks: Wholes, others: Wholes) -> Contrasts:
    """Compare the signs (F, P) of the pipes at positions `leaks` (J) with those at `others` (K)."""
    mean = np.asarray(signs, dtype=float).mean(axis=1)
    about = np.asarray(signs - mean[:, None], dtype=np.float32)
    square = (about**2).sum(axis=0)
    tilt = np.asarray(mean @ about, dtype=np.float32)
    size = square + 2 * tilt + np.float32(mean @ mean)
    return Contrasts(
        np.asarray(about[:, leaks].T @ about[:, others]),
        square[leaks],
        square[others],
        tilt[leaks],
        tilt[others],
        size[leaks],
    )


def walk_m(
    told: Contrasts,
    *,
    leak_odds: Reals,
    other_odds: Reals,
    other_m: Reals,
    leak_m: Reals,
    same: Any,
    flow_l_s: float,
    flow_error_l_s: float,
) -> Reals:
    """Metres expected to be walked to each of J leaks of `flow_l_s`, half of its own pipe included.

    Parameters: `told` of J leaks and K other pipes; `leak_odds` (J), `other_odds` (K) log of
    expected leaks a metre; `other_m` (K) length each other pipe stands for, `leak_m` (J) length of
    the leak's own pipe; `same` (J, K) True where both are one pipe. A crew takes pipes by
    probability a metre, so a pipe is walked first where its log odds with the readings exceed the
    leak's. With normal noise that difference is normal with mean r - d^2/2 and spread d: r of the
    log odds, d the distance of the two signs. The size of the leak is known to `flow_error_l_s`
    only (standard error); what differs by size alone then tells less. Result (J).
    """
    q2, s2 = np.float32(flow_l_s**2), np.float32(flow_error_l_s**2)
    gap = told.leak_square[:, None] + told.other_square - 2 * told.product
    along = told.product + told.other_tilt
    along -= (told.leak_square + told.leak_tilt)[:, None]
    gap -= along**2 * (s2 / (1 + s2 * told.leak_size))[:, None]
    gap = np.sqrt((q2 * gap).clip(min=_ALIKE**2))
    first = (other_odds.astype(np.float32) - leak_odds.astype(np.float32)[:, None]) / gap
    first -= gap / 2
    ahead = ndtr(first)
    ahead[same] = 0.0
    return np.asarray(ahead @ other_m.astype(np.float32), dtype=float) + leak_m / 2


def expected_walk_m(
    signs: Reals | Singles,
    odds: Reals,
    length_m: Reals,
    *,
    flow_l_s: float,
    flow_error_l_s: float,
    leaks: Wholes | None = None,
    sample: tuple[Wholes, Reals] | None = None,
) -> Reals:
    """Metres expected to be walked to a leak on each pipe, or on each of `leaks`.

    Parameters: `signs` (F, P), F may be 0: nothing is told; `odds` log of expected leaks a metre
    (P); `length_m` (P); `sample` positions of the pipes to compare with and the length each
    stands for (see `sampled_by`), where not all are wanted. In pieces of 256 leaks, single
    precision: 10,000 pipes take some 40 MB.
    """
    leaks = np.arange(len(odds)) if leaks is None else leaks
    others, other_m = (np.arange(len(odds)), length_m) if sample is None else sample
    done: Reals = np.empty(len(leaks))
    for begin in range(0, len(leaks), _ROWS):
        some = leaks[begin : begin + _ROWS]
        done[begin : begin + _ROWS] = walk_m(
            contrasts(signs, some, others),
            leak_odds=odds[some],
            other_odds=odds[others],
            other_m=other_m,
            leak_m=length_m[some],
            same=some[:, None] == others,
            flow_l_s=flow_l_s,
            flow_error_l_s=flow_error_l_s,
        )
    return done


def sampled_by(weight: Reals, count: int) -> tuple[Wholes, Reals]:
    """At most `count` positions drawn evenly along the sum of `weight`, and the weight each stands
    for; all of them where they are no more. Nothing is random."""
    if len(weight) <= count:
        return np.arange(len(weight)), weight
    total = np.cumsum(weight)
    step = float(total[-1]) / count
    drawn = np.searchsorted(total, step * (np.arange(count) + 0.5))
    place, times = np.unique(np.minimum(drawn, len(weight) - 1), return_counts=True)
    return place, np.asarray(times * step, dtype=float)
