"""Changes of many columns at once, each found given all others of its column."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np

from district.balance.contest import Alone, Chance, alone
from district.balance.levels import Added, levelled
from district.estimates import Array

APART_DAYS = 1
"""Changes closer than this are one: a burst may be shut the day after."""
_ROUNDS = 15


@dataclass(frozen=True, eq=False)
class Series:
    """Columns of residuals (night and day, days x columns, L/s) and what is known of each."""

    night: Array
    day: Array
    made: Chance
    use_l_s: Array
    factor_share: Array

    def of(self, columns: Any) -> Series:
        """Some columns."""
        return Series(
            self.night[:, columns],
            self.day[:, columns],
            self.made.of(columns),
            self.use_l_s[columns],
            self.factor_share[columns],
        )


@dataclass(eq=False)
class Steps:
    """Changes: their columns, days, usual covariances (3 x changes) and log of how often."""

    columns: Any
    days: Any
    usual: Array
    often: Array

    def of(self, kept: Any) -> Steps:
        """Some of them."""
        return Steps(self.columns[kept], self.days[kept], self.usual[:, kept], self.often[kept])

    def and_(self, other: Steps) -> Steps:
        """Both."""
        return Steps(
            np.concatenate([self.columns, other.columns]),
            np.concatenate([self.days, other.days]),
            np.hstack([self.usual, other.usual]),
            np.concatenate([self.often, other.often]),
        )

    def added(self, shape: tuple[int, int]) -> Added:
        """As what the levels may do."""
        added = Added(np.zeros(shape), np.zeros(shape), np.zeros(shape))
        added.put(self.days, self.columns, (self.usual[0], self.usual[1], self.usual[2]))
        return added


def no_steps() -> Steps:
    """None."""
    return Steps(np.zeros(0, int), np.zeros(0, int), np.zeros((3, 0)), np.zeros(0))


def grown(
    series: Series, steps: Steps, *, reach: Any, worth_index: float, again: bool = True
) -> Steps:
    """`steps` and what else is worth it, one a round and column, the likeliest first.

    Parameters: `reach` days x columns, where one may begin; `worth_index` the least log odds. Then,
    if `again`, every step within reach is left out once and placed again, for the first pulled at
    others.
    """
    count = series.night.shape[1]
    active = np.arange(count)
    for _ in range(_ROUNDS):
        new = _best(series, steps, active, reach=reach, worth_index=worth_index)
        steps = steps.and_(new)
        active = new.columns
        if not len(active):
            break
    if not again:
        return steps
    inside = reach[steps.days, steps.columns] if len(steps.days) else np.zeros(0, bool)
    fixed, free = steps.of(~inside), steps.of(inside)
    order = np.lexsort((free.days, free.columns))
    free = free.of(order)
    rank = _ranks(free.columns)
    if not len(rank) or rank.max() == 0:
        return fixed.and_(free)
    settled = [free.of(rank == turn) for turn in range(int(rank.max()) + 1)]
    for turn in range(len(settled)):
        rest = fixed
        for other, part in enumerate(settled):
            if other != turn:
                rest = rest.and_(part)
        columns = settled[turn].columns
        settled[turn] = _best(series, rest, columns, reach=reach, worth_index=worth_index)
    for part in settled:
        fixed = fixed.and_(part)
    return fixed


def _best(series: Series, steps: Steps, active: Any, *, reach: Any, worth_index: float) -> Steps:
    """The likeliest further change of each active column, if worth it."""
    if not len(active) or not len(series.night):
        return no_steps()
    place = np.full(series.night.shape[1], -1)
    place[active] = np.arange(len(active))
    own = steps.of(place[steps.columns] >= 0)
    own = Steps(place[own.columns], own.days, own.usual, own.often)
    part = series.of(active)
    seen, _ = levelled(part.night, part.day, part.made, own.added(part.night.shape))
    found: Alone = alone(seen, use_l_s=part.use_l_s, factor_share=part.factor_share)
    odds = np.where(reach[:, active], found.odds, -np.inf)
    for apart in range(1 - APART_DAYS, APART_DAYS):
        days = own.days + apart
        there = (days >= 0) & (days < len(odds))
        odds[days[there], own.columns[there]] = -np.inf
    odds[0] = -np.inf
    at = odds.argmax(axis=0)
    columns = np.flatnonzero(odds[at, np.arange(len(active))] > worth_index)
    days = at[columns]
    usual = np.stack([k[days, columns] for k in found.usual])
    return Steps(active[columns], days, usual, found.often[days, columns])


def _ranks(columns: Any) -> Any:
    """Place of each among those of its column, sorted."""
    first = np.searchsorted(columns, columns)
    return np.arange(len(columns)) - first
