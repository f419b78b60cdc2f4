"""What each cell explains by itself: leaks, repairs and changes of use, one after another."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from district.balance.contest import Chance, alone, chance, observed
from district.balance.equations import Equations
from district.balance.limits import Array
from district.balance.shifts import WINDOW_DAYS

WORTH = float(np.log(10.0))
"""Log odds from which a change is taken off."""
NEAR_DAYS = 7
"""Changes this many days apart may be one."""
APART_DAYS = 4
"""Changes closer than this are one."""
_ROUNDS = 15
_WINDOWS_DAYS = (14, WINDOW_DAYS)
"""Short leaks show in short windows, small ones in long ones."""


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

    The largest of each cell is taken off before its next is looked for (serial compensation).
    Then each is the difference of the levels between its neighbours, for at first they pulled at
    it. Parameters: `night` and `day`, days x cells of `known`, L/s; not written to.
    """
    active = np.arange(len(known.cells)) if cells is None else np.asarray(cells, dtype=int)
    left = night.copy(), day.copy()
    dates: dict[int, set[int]] = {}
    for _ in range(_ROUNDS):
        fresh = _largest(known, left, active)
        take_off(fresh, left)
        # What is left of a change beside its date is not another one.
        active = np.array(
            [
                own.cell
                for own in fresh
                if all(abs(own.first - d) >= APART_DAYS for d in dates.get(own.cell, ()))
            ],
            dtype=int,
        )
        for own in fresh:
            if own.cell in set(active.tolist()):
                dates.setdefault(own.cell, set()).add(own.first)
        if not len(active):
            break
    return [own for cell in sorted(dates) for own in _levels(night, day, cell, dates[cell])]


def take_off(changes: Sequence[Own], values: tuple[Array, Array], *, back: bool = False) -> None:
    """Take the changes off the residuals in place, or put them `back`."""
    sign = -1.0 if back else 1.0
    for own in changes:
        values[0][own.first :, own.cell] -= sign * own.night_l_s
        values[1][own.first :, own.cell] -= sign * own.day_l_s


def per_year(changes: Sequence[Own], *, cells: Any, days_count: int) -> tuple[Array, Array]:
    """How often leaks (or repairs) and changes of use begin in each of `cells`, by the record.

    A change that shows by day more than twice as much as by night is one of use.
    """
    place = {int(cell): i for i, cell in enumerate(cells)}
    counts = np.zeros((2, len(cells)))
    for own in changes:
        if own.cell in place:
            use = abs(own.night_l_s) < 0.5 * abs(own.day_l_s)
            counts[int(use), place[own.cell]] += 1
    yearly = counts * 365.0 / max(days_count, 1)
    return yearly[0], yearly[1]


def chance_of(known: Equations, values: tuple[Array, Array]) -> Chance:
    """What chance makes of residuals from which all changes are taken off."""
    return chance(known.use_l_s, *values, settled=True)


def _largest(known: Equations, left: tuple[Array, Array], cells: Any) -> list[Own]:
    """The likeliest change of each of the cells, if worth it."""
    if not len(cells):
        return []
    night, day = left[0][:, cells], left[1][:, cells]
    use, factor = known.use_l_s[cells], known.factor_share[cells]
    made = chance(use, night, day, settled=False)
    scales = [
        alone(observed(night, day, made, window_d=w), use_l_s=use, factor_share=factor)
        for w in _WINDOWS_DAYS
    ]
    best = np.stack([scale[0] for scale in scales]).argmax(axis=0)[None]
    odds, moved_night, moved_day = (
        np.take_along_axis(np.stack([scale[part] for scale in scales]), best, 0)[0]
        for part in range(3)
    )
    if not len(odds):
        return []
    at = odds.argmax(axis=0)
    return [
        Own(int(cell), int(t), float(moved_night[t, i]), float(moved_day[t, i]))
        for i, (cell, t) in enumerate(zip(cells, at, strict=True))
        if odds[t, i] > WORTH
    ]


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
