"""What each cell explains by itself: leaks, repairs and changes of use, one after another."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from district.balance.contest import Chance, chance
from district.balance.equations import Equations
from district.balance.shifts import LEAST_AFTER, LEAST_BEFORE, WINDOW_DAYS, tamed
from district.balance.steps import Series, Steps, grown, no_steps
from district.estimates import Array

WORTH = float(np.log(10.0))
"""Log odds from which a change is taken off."""
NEAR_DAYS = 7
"""Changes this many days apart may be one."""


@dataclass(frozen=True)
class Own:
    """A lasting shift of one cell: `cell` and `first` are positions."""

    cell: int
    first: int
    night_l_s: float
    day_l_s: float


def own_changes(
    known: Equations, night: Array, day: Array, *, cells: Sequence[int] | None = None
) -> list[Own]:
    """Every change that the residuals of `cells` (positions; all if not given) show.

    First with noise as the days tell it; then, with these changes taken off, with noise as the
    weeks tell it. Parameters: `night` and `day`, days x cells of `known`, L/s; not written to.
    """
    at = np.arange(len(known.cells)) if cells is None else np.asarray(cells, dtype=int)
    if not len(at) or len(night) < 2:
        return []
    values = night[:, at], day[:, at]
    use, factor = known.use_l_s[at], known.factor_share[at]
    reach = np.zeros(values[0].shape, dtype=bool)
    reach[LEAST_BEFORE : len(reach) - LEAST_AFTER + 1] = True
    made, steps = chance(use, *values, settled=False), no_steps()
    found: list[Own] = []
    for settled in (False, True):
        if settled:
            bare = values[0].copy(), values[1].copy()
            take_off(found, bare)
            made = chance(use, *bare, settled=True)
        series = Series(tamed(values[0], made.night), tamed(values[1], made.day), made, use, factor)
        steps = grown(series, steps, reach=reach, worth_index=WORTH, again=settled)
        found = [
            own
            for column in np.unique(steps.columns)
            for own in _levels(
                *values, int(column), set(steps.days[steps.columns == column].tolist())
            )
        ]
    return [replace(own, cell=int(at[own.cell])) for own in found]


def take_off(changes: Sequence[Own], values: tuple[Array, Array]) -> None:
    """Take the changes off the residuals, in place."""
    for own in changes:
        values[0][own.first :, own.cell] -= own.night_l_s
        values[1][own.first :, own.cell] -= own.day_l_s


def as_steps(changes: Sequence[Own]) -> Steps:
    """As steps of unknown size, much like those found; columns are cells."""
    night, day = (np.array([getattr(o, n) for o in changes]) for n in ("night_l_s", "day_l_s"))
    return Steps(
        np.array([o.cell for o in changes], dtype=int),
        np.array([o.first for o in changes], dtype=int),
        np.stack([night**2, day**2, 0.5 * night * day]),
        np.zeros(len(changes)),
    )


def chance_of(known: Equations, values: tuple[Array, Array]) -> Chance:
    """What chance makes of residuals from which all changes are taken off."""
    return chance(known.use_l_s, *values, settled=True)


def _levels(night: Array, day: Array, cell: int, dates: set[int]) -> list[Own]:
    """The changes of one cell at these dates: each level after one less the level before it."""
    ends = [0, *sorted(dates), len(night)]
    owns = []
    for begin, at, end in zip(ends, ends[1:], ends[2:], strict=False):
        first, last = max(begin, at - WINDOW_DAYS), min(end, at + WINDOW_DAYS)
        steps = [
            _middle(values[at:last, cell]) - _middle(values[first:at, cell])
            for values in (night, day)
        ]
        owns.append(Own(cell, at, *(float(np.nan_to_num(s)) for s in steps)))
    return owns


def _middle(values: Array) -> float:
    known = values[np.isfinite(values)]
    return float(np.median(known)) if len(known) else float("nan")
