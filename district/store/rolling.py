"""Intervals laid into equal bins of every night, and the lowest hour of them.

Bins are numbered from the start of a night; each side (a meter as seen from a cell) has its own
step. All bins of all sides and nights lie in one flat array, so that a year of intervals is laid
in batch by batch, in any order, and is never held.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
import numpy.typing as npt

from district.store.windows import HOUR_US

Whole = npt.NDArray[np.int64]
Real = npt.NDArray[np.float64]


@dataclass(frozen=True, eq=False)
class Bins:
    """Volume, m³, and covered time, microseconds, of the bins of some sides on every night.

    steps_us
        by side.
    lengths_us
        by night.
    most
        by side, bins of its longest night; shorter nights leave the last ones empty.
    base
        by side, where its first bin lies.
    """

    steps_us: Whole
    lengths_us: Whole
    most: Whole
    base: Whole
    volume_m3: Real
    covered_us: Real


def bins_count(steps_us: Whole, lengths_us: Whole) -> Whole:
    """How many bins each side takes."""
    return np.asarray(lengths_us.max() // steps_us * len(lengths_us))


def empty_bins(steps_us: Whole, lengths_us: Whole) -> Bins:
    """Bins nothing is laid into yet."""
    count = bins_count(steps_us, lengths_us)
    flat = int(count.sum())
    return Bins(
        steps_us,
        lengths_us,
        lengths_us.max() // steps_us,
        np.cumsum(count) - count,
        np.zeros(flat),
        np.zeros(flat),
    )


def lay(bins: Bins, *, side: Whole, night: Whole, start: Whole, end: Whole, volume: Real) -> None:
    """Share intervals out over their bins, by overlap; `start` and `end` since the night's start.

    What lies before the night, or after its last whole bin, is left out.
    """
    step = bins.steps_us[side]
    begins = np.maximum(start, 0)
    first = begins // step
    last = np.minimum(bins.lengths_us[night] // step, (end - 1) // step + 1) - 1
    at = bins.base[side] + night * bins.most[side] + first
    share = volume / (end - start)
    for further in range(int((last - first).max(initial=-1)) + 1):
        some = np.flatnonzero(first + further <= last)
        edge = (first[some] + further) * step[some]
        overlap = np.minimum(end[some], edge + step[some]) - np.maximum(begins[some], edge)
        np.add.at(bins.volume_m3, at[some] + further, share[some] * overlap)
        np.add.at(bins.covered_us, at[some] + further, overlap)


def lowest_of(
    bins: Bins, sides: slice, *, signs: Real, firsts: Whole, whole_share: float
) -> tuple[Whole, Whole, Real, Whole]:
    """Lowest rolling hour of each cell and night on which every bin of every side is whole.

    `sides` are neighbours of one step, `firsts` the first of each cell among them, `signs` how
    their flow counts. Returns cell, night, volume of the hour in m³ and its start since the
    night's, in microseconds: of equal hours the earliest.
    """
    step, most = int(bins.steps_us[sides][0]), int(bins.most[sides][0])
    begin = int(bins.base[sides][0])
    shape = (len(signs), len(bins.lengths_us), most)
    flat = slice(begin, begin + int(np.prod(shape)))
    counts, wide = bins.lengths_us // step, HOUR_US // step
    if most < wide:
        return _nothing()
    beyond = np.arange(most) >= counts[:, None]
    whole = (bins.covered_us[flat].reshape(shape) >= whole_share * step) | beyond
    usable = np.logical_and.reduceat(whole.all(axis=2), firsts, axis=0) & (counts >= wide)
    signed = bins.volume_m3[flat].reshape(shape) * signs[:, None, None]
    cell, night = np.nonzero(usable)
    net = np.add.reduceat(signed, firsts, axis=0)[cell, night]
    hours = np.zeros((len(net), most - wide + 1))
    for k in range(wide):
        hours += net[:, k : k + hours.shape[1]]
    hours[np.arange(hours.shape[1]) > (counts[night] - wide)[:, None]] = np.inf
    # Sums of equal flows differ in their last digits.
    lowest = np.round(hours, 9).argmin(axis=1)
    return cell, night, hours[np.arange(len(hours)), lowest], lowest * step


def _nothing() -> tuple[Any, ...]:
    none = np.zeros(0, dtype=np.int64)
    return none, none, np.zeros(0), none
