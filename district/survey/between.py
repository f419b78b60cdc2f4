"""Pieces moved from one shift to another where that shortens the walk."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from district.hydraulics.model import Wholes
from district.survey.round import Steps

_LONGEST_MOVED = 5
_PASSES, _TRIED = 40, 40_000
"""Moves at most, fewer where many pieces and shifts make each dear to find."""
_GAIN_M = 1e-3


def moved_between(
    steps: Steps, shifts: list[Wholes], takes_min: Callable[[Wholes], float], shift_min: float
) -> list[Wholes]:
    """The shifts once no run of a few pieces is walked with less way in another shift that has the
    time for it; one left empty is gone.

    Parameters: `shifts` tokens of pieces with their direction, `takes_min` the minutes of a shift.
    """
    found = list(shifts)
    tried = sum(map(len, shifts)) * len(shifts)
    for _ in range(min(_PASSES, max(_TRIED // max(tried, 1), 1))):
        best = _best_move(steps, found, takes_min, shift_min)
        if best is None:
            break
        source, target, left, wider = best
        found[source], found[target] = left, wider
        found = [shift for shift in found if len(shift)]
    return found


def _best_move(
    steps: Steps, shifts: list[Wholes], takes_min: Callable[[Wholes], float], shift_min: float
) -> tuple[int, int, Wholes, Wholes] | None:
    best_m, best = -_GAIN_M, None
    for source, shift in enumerate(shifts):
        whole = np.concatenate([[steps.home], shift, [steps.home]]).astype(np.int64)
        gone_m = np.append(0.0, np.cumsum(steps.cost_m[whole[:-1], whole[1:]]))
        for first in range(len(shift)):
            for last in range(first + 1, min(first + _LONGEST_MOVED, len(shift)) + 1):
                # A shift left empty is no walk: from home to home is nothing.
                joined = steps.cost_m[whole[first], whole[last + 1]]
                saved = float(gone_m[last + 1] - gone_m[first] - joined)
                if saved < -best_m:
                    continue
                run = shift[first:last]
                for target, other in enumerate(shifts):
                    if target == source:
                        continue
                    extra, wider = _inserted(steps, other, run)
                    if extra - saved < best_m and takes_min(wider) <= shift_min:
                        left = np.concatenate([shift[:first], shift[last:]])
                        best_m, best = extra - saved, (source, target, left, wider)
    return best


def _inserted(steps: Steps, shift: Wholes, run: Wholes) -> tuple[float, Wholes]:
    """The run where it costs a shift least, either way, and the metres that it adds."""
    whole = np.concatenate([[steps.home], shift, [steps.home]]).astype(np.int64)
    here, beyond = whole[:-1], whole[1:]
    inner = float(steps.cost_m[run[:-1], run[1:]].sum())
    best_m, best = np.inf, shift
    for way in (run, run[::-1] ^ 1):
        extra = steps.cost_m[here, way[0]] + steps.cost_m[way[-1], beyond]
        extra = extra - steps.cost_m[here, beyond] + inner
        k = int(np.argmin(extra))
        if extra[k] < best_m:
            best_m, best = float(extra[k]), np.concatenate([shift[:k], way, shift[k:]])
    return best_m, best
