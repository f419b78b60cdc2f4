"""How well a fault between two cells, and changes of each cell by itself, explain days about a date.

Both are given every freedom: without the fault, as many changes in either cell as are worth it;
with it, those that are still worth it when it is taken off. The two are compared by likelihood,
with the odds of each event counted, so that 'a meter and a leak' is weighed against 'two leaks'.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np

from district.balance.contest import Chance, Observed, Pairs, meter_odds, pair_odds
from district.balance.levels import levelled
from district.balance.limits import Array
from district.balance.own_changes import NEAR_DAYS, Own, as_steps
from district.balance.shifts import LEAST_AFTER, LEAST_BEFORE
from district.balance.steps import Series, Steps, grown, no_steps

BEFORE_DAYS, AFTER_DAYS = 98, 63
_LIKELY = 1.92  # half of the 95 % quantile of chi-square with one degree of freedom


@dataclass(frozen=True, eq=False)
class Suspects:
    """Meters or pairs, each with a date: positions of the cells its water goes into and out of."""

    at: Array
    dates: Array
    into: Array
    out_of: Array


@dataclass(frozen=True, eq=False)
class Told:
    """Of each suspect: log odds against changes of each cell alone, and the fault it would be.

    `first`, `low`, `high` days of the record; `share` 0 for pairs, flows 0 for meters.
    """

    odds: Array
    first: Array
    low: Array
    high: Array
    share: Array
    deviation: Array
    statistic: Array
    night_l_s: Array
    day_l_s: Array


def explained(
    suspects: Suspects,
    values: tuple[Array, Array],
    *,
    made: Chance,
    use_l_s: Array,
    factor_share: Array,
    owns: list[Own],
    flows: tuple[Array, Array] | None,
    valves: tuple[tuple[str, ...], ...] = (),
) -> Told:
    """Weigh each suspect.

    Parameters: `values` residuals by night and by day, days x cells; `owns` what else changed;
    `flows` of the suspects as read, days x suspects, or none for pairs, which have `valves`.
    """
    count = len(suspects.dates)
    rows = suspects.dates + np.arange(-BEFORE_DAYS, AFTER_DAYS)[:, None]
    there = (rows >= 0) & (rows < len(values[0]))
    enough = (rows >= LEAST_BEFORE) & (rows <= len(values[0]) - LEAST_AFTER)
    rows = np.clip(rows, 0, len(values[0]) - 1)
    cells = np.concatenate([suspects.into, suspects.out_of])
    both = np.hstack([there, there])
    raw = tuple(np.where(both, v[np.hstack([rows, rows]), cells], np.nan) for v in values)
    series = Series(raw[0], raw[1], made.of(cells), use_l_s[cells], factor_share[cells])
    read = (
        None
        if flows is None
        else tuple(np.where(there, f[rows, np.arange(count)], np.nan) for f in flows)
    )
    inside = np.abs(np.arange(len(rows)) - BEFORE_DAYS) <= NEAR_DAYS
    reach = np.hstack([enough, enough]) & inside[:, None]
    far = _far(suspects, cells, owns, len(rows))
    alone = grown(series, far, reach=reach, worth=0.0)
    without = _likelihood(series, alone, far)[1]

    def weighed(steps: Steps) -> tuple[Array, Told]:
        seen, likely = _likelihood(series, steps, far)
        return likely, _fault(seen, reach[:, :count], read, use_l_s[cells], valves)

    near = alone.of(inside[alone.days])
    in_first = near.columns < count
    best: tuple[Array, Told] | None = None
    for start in (no_steps(), near.of(in_first), near.of(~in_first)):
        _, told = weighed(far.and_(start))
        left = _taken_off(series, told, read)
        steps = grown(left, far, reach=reach, worth=0.0)
        likely, told = weighed(steps)
        score = likely[:count] + likely[count:] + told.odds
        if best is None:
            best = score, told
            continue
        wins = score > best[0]
        parts = {
            name: np.where(wins, getattr(told, name), getattr(best[1], name))
            for name in Told.__dataclass_fields__
        }
        best = np.where(wins, score, best[0]), Told(**parts)
    assert best is not None
    first = suspects.dates - BEFORE_DAYS
    return Told(
        **{name: getattr(best[1], name) for name in Told.__dataclass_fields__}
        | {
            "odds": best[0] - without[:count] - without[count:],
            "first": best[1].first + first,
            "low": best[1].low + first,
            "high": best[1].high + first,
        }
    )


def _far(suspects: Suspects, cells: Array, owns: list[Own], length: int) -> Steps:
    """What changed in the cells further away than might be mistaken for the suspect."""
    if not owns:
        return no_steps()
    every = as_steps(owns)
    cell, first = every.columns, every.days
    order = np.argsort(cell, kind="stable")
    begin, end = (np.searchsorted(cell[order], cells, side=s) for s in ("left", "right"))
    columns = np.repeat(np.arange(len(cells)), end - begin)
    offsets = np.arange(len(columns)) - np.repeat(np.cumsum(end - begin) - (end - begin), end - begin)
    which = order[np.repeat(begin, end - begin) + offsets]
    days = first[which] - np.tile(suspects.dates, 2)[columns] + BEFORE_DAYS
    kept = (days > 0) & (days < length) & (np.abs(days - BEFORE_DAYS) > NEAR_DAYS)
    which, columns, days = which[kept], columns[kept], days[kept]
    return Steps(columns, days, every.usual[:, which], np.zeros(len(days)))


def _likelihood(series: Series, steps: Steps, far: Steps) -> tuple[Observed, Array]:
    """Shifts beside the steps; log likelihood of each column, with the odds of its near steps."""
    shape = series.night.shape
    seen, likely = levelled(series.night, series.day, series.made, steps.added((shape[0], shape[1])))
    np.add.at(likely, steps.columns, steps.often)
    return seen, likely


def _fault(
    seen: Observed, reach: Array, read: Any, use_l_s: Array, valves: tuple[tuple[str, ...], ...]
) -> Told:
    """The fault at its likeliest date within reach, days of the window."""
    count = reach.shape[1]
    into, out_of = np.arange(count), np.arange(count) + count
    none = np.zeros(reach.shape)
    if read is not None:
        found = meter_odds(
            seen, into=into, out_of=out_of, night_flow_l_s=read[0], day_flow_l_s=read[1]
        )
        odds, night, day = found.odds, none, none
        share, deviation, statistic = found.share, found.deviation, found.statistic
    else:
        odds, night, day = pair_odds(seen, Pairs(into, out_of, valves), use_l_s=use_l_s)
        share, deviation, statistic = none, none, 2.0 * odds
    odds = np.where(reach, odds, -np.inf)
    at = odds.argmax(axis=0)
    likely = odds >= odds[at, into] - _LIKELY
    low, high = likely.argmax(axis=0), len(likely) - 1 - likely[::-1].argmax(axis=0)
    return Told(
        odds[at, into],
        at,
        low,
        high,
        *(part[at, into] for part in (share, deviation, statistic, night, day)),
    )


def _taken_off(series: Series, told: Told, read: Any) -> Series:
    """The series less what the faults did to it."""
    since = np.arange(len(series.night))[:, None] >= told.first
    moved = (
        (since * told.night_l_s, since * told.day_l_s)
        if read is None
        else tuple(since * told.share * np.nan_to_num(f) for f in read)
    )
    night, day = (
        v - np.hstack([m, -m]) for v, m in zip((series.night, series.day), moved, strict=True)
    )
    return Series(night, day, series.made, series.use_l_s, series.factor_share)
