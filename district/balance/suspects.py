"""Suspected meters and unmetered flows, each with the days about a date in both its cells."""

from __future__ import annotations

from dataclasses import dataclass, fields
from typing import Any

import numpy as np

from district.balance.contest import Chance, Observed, Pairs, meter_odds, pair_odds
from district.balance.levels import levelled
from district.balance.own_changes import NEAR_DAYS, Own, as_steps
from district.balance.shifts import LEAST_AFTER, LEAST_BEFORE
from district.balance.steps import Series, Steps, no_steps
from district.estimates import Array

BEFORE_DAYS, AFTER_DAYS = 70, 42
LIKELY = 1.92
"""Half of the 95 % quantile of chi-square with one degree of freedom."""


@dataclass(frozen=True, eq=False)
class Suspects:
    """Meters or pairs, each with a date: positions of the cells its water goes into and out of.

    `flows` of meters by night and by day, days of the record x suspects, L/s as read; none for
    pairs, which have `valves`.
    """

    at: Any
    dates: Any
    into: Any
    out_of: Any
    flows: tuple[Array, Array] | None = None
    valves: tuple[tuple[str, ...], ...] = ()


@dataclass(frozen=True, eq=False)
class Windows:
    """The days about each suspect's date, of the cells they go into, then of those they leave.

    `reach` days x suspects at which the fault may begin; `far` what changed beyond it, `near`
    within; `flows` and `valves` of the suspects.
    """

    series: Series
    reach: Any
    far: Steps
    near: Steps
    flows: tuple[Array, Array] | None
    valves: tuple[tuple[str, ...], ...]

    @property
    def count(self) -> int:
        """Suspects."""
        return int(self.reach.shape[1])

    def of(self, kept: Any) -> Windows:
        """Those of some suspects."""
        columns = np.concatenate([kept, kept + self.count])
        place = np.full(2 * self.count, -1)
        place[columns] = np.arange(len(columns))

        def moved(steps: Steps) -> Steps:
            own = steps.of(place[steps.columns] >= 0)
            return Steps(place[own.columns], own.days, own.usual, own.often)

        flows, valves = self.flows, self.valves
        return Windows(
            self.series.of(columns),
            self.reach[:, kept],
            moved(self.far),
            moved(self.near),
            None if flows is None else (flows[0][:, kept], flows[1][:, kept]),
            tuple(valves[i] for i in kept) if valves else (),
        )

    def seen(self, steps: Steps) -> tuple[Observed, Array]:
        """What shifts show beside the steps; each column's log likelihood and odds of steps."""
        night = self.series.night
        added = steps.added((len(night), night.shape[1]))
        seen, likely = levelled(night, self.series.day, self.series.made, added)
        np.add.at(likely, steps.columns, steps.often)
        return seen, likely


@dataclass(frozen=True, eq=False)
class Faults:
    """Of each suspect the fault it would be: log odds, `first` (`low`, `high`) day, its size.

    `share` and its `deviation` 0 for pairs, flows 0 for meters.
    """

    odds: Array
    first: Any
    low: Any
    high: Any
    share: Array
    deviation: Array
    statistic: Array
    night_l_s: Array
    day_l_s: Array

    def where(self, better: Any, other: Faults) -> Faults:
        """Those of `other` where it is `better`."""
        names = [part.name for part in fields(self)]
        return Faults(*(np.where(better, getattr(other, n), getattr(self, n)) for n in names))


def windows(
    suspects: Suspects,
    values: tuple[Array, Array],
    *,
    made: Chance,
    use_l_s: Array,
    factor_share: Array,
    owns: list[Own],
) -> Windows:
    """Cut the days about each date out of `values` (residuals by night, day; days x cells)."""
    rows = suspects.dates + np.arange(-BEFORE_DAYS, AFTER_DAYS)[:, None]
    there = (rows >= 0) & (rows < len(values[0]))
    enough = (rows >= LEAST_BEFORE) & (rows <= len(values[0]) - LEAST_AFTER)
    rows = np.clip(rows, 0, len(values[0]) - 1)
    cells = np.concatenate([suspects.into, suspects.out_of])
    both = np.hstack([there, there])
    night, day = (np.where(both, v[np.hstack([rows, rows]), cells], np.nan) for v in values)
    inside = np.abs(np.arange(len(rows)) - BEFORE_DAYS) <= NEAR_DAYS
    changed = _changed(suspects, cells, owns, len(rows))
    close = inside[changed.days]
    flows = None
    if suspects.flows is not None:
        at = np.arange(len(suspects.dates))
        by_night, by_day = (np.where(there, f[rows, at], np.nan) for f in suspects.flows)
        flows = by_night, by_day
    return Windows(
        Series(night, day, made.of(cells), use_l_s[cells], factor_share[cells]),
        enough & inside[:, None],
        changed.of(~close),
        changed.of(close),
        flows,
        suspects.valves,
    )


def fault_of(seen: Observed, about: Windows) -> Faults:
    """The fault of each suspect at its likeliest date within reach, days of the window."""
    into, out_of = np.arange(about.count), np.arange(about.count) + about.count
    none = np.zeros(about.reach.shape)
    if about.flows is not None:
        night, day = about.flows
        found = meter_odds(seen, into=into, out_of=out_of, night_flow_l_s=night, day_flow_l_s=day)
        odds, sizes = found.odds, (found.share, found.deviation, found.statistic, none, none)
    else:
        pairs = Pairs(into, out_of, about.valves)
        odds, by_night, by_day = pair_odds(seen, pairs, use_l_s=about.series.use_l_s)
        sizes = none, none, 2.0 * odds, by_night, by_day
    odds = np.where(about.reach, odds, -np.inf)
    at = odds.argmax(axis=0)
    likely = odds >= odds[at, into] - LIKELY
    low, high = likely.argmax(axis=0), len(likely) - 1 - likely[::-1].argmax(axis=0)
    return Faults(odds[at, into], at, low, high, *(part[at, into] for part in sizes))


def _changed(suspects: Suspects, cells: Any, owns: list[Own], length: int) -> Steps:
    """What changed in the cells during the days of their windows."""
    if not owns:
        return no_steps()
    every = as_steps(owns)
    order = np.argsort(every.columns, kind="stable")
    ordered = every.columns[order]
    begin, end = (np.searchsorted(ordered, cells, side=side) for side in ("left", "right"))
    many = end - begin
    columns = np.repeat(np.arange(len(cells)), many)
    turn = np.arange(len(columns)) - np.repeat(np.cumsum(many) - many, many)
    which = order[np.repeat(begin, many) + turn]
    days = every.days[which] - np.tile(suspects.dates, 2)[columns] + BEFORE_DAYS
    kept = (days > 0) & (days < length)
    return Steps(columns[kept], days[kept], every.usual[:, which[kept]], np.zeros(kept.sum()))
