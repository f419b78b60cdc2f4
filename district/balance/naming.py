"""Whether a meter, or an unmetered flow, explains the shifts about a date better than all else."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any

import numpy as np
from scipy.special import chdtri

from district.balance.contest import Chance, Pairs, meter_odds
from district.balance.equations import Equations
from district.balance.explained import explained
from district.balance.levels import levelled
from district.balance.own_changes import NEAR_DAYS, Own, as_steps
from district.balance.suspects import Faults, Suspects
from district.estimates import Array

MARGIN = float(np.log(2.0))
"""A meter is named only at 2 to 1 against every other explanation of the same shifts."""
FALSE_ALARM_SHARE = 0.01
"""Chance that in a record without faults any meter passes the critical value."""
LEAST_SHARE = 0.04
"""Smaller faults are within what meters in service are allowed: twice 2 % (common practice, no
source)."""
INDEPENDENT = "changes of leakage or use in both zones on the same days"
_AT_ONCE = 1000
"""Suspects weighed together, so that memory holds them."""


@dataclass(frozen=True)
class Fault:
    """One meter (`kind` 'meter') or unmetered flow ('pair') that began to shift two cells.

    `at` is the position of the meter or pair, `first`, `low`, `high` positions of days; `share`
    is of what the meter reads, 0 for pairs; `night_l_s` and `day_l_s` pass into the first cell of
    a pair, 0 for meters. `margin_index` is the log of the odds against `runner_up`.
    """

    kind: str
    at: int
    first: int
    low: int
    high: int
    share: float
    share_deviation: float
    statistic_index: float
    margin_index: float
    runner_up: str
    night_l_s: float = 0.0
    day_l_s: float = 0.0


def critical_index(known: Equations) -> float:
    """Chi-square value (one degree) that no meter passes by chance in 99 of 100 such records.

    Every meter and every week of the record counts as one trial (Bonferroni).
    """
    two = int(((known.upstream >= 0) & (known.downstream >= 0)).sum())
    trials = max(two, 1) * max(len(known.days) / NEAR_DAYS, 1.0)
    return float(chdtri(1, FALSE_ALARM_SHARE / trials))


def cells_of(known: Equations, pairs: Pairs, kind: str, at: int) -> tuple[int, int]:
    """The cell it adds water to, on paper, and the one it takes it from."""
    if kind == "pair":
        return int(pairs.first[at]), int(pairs.second[at])
    return int(known.downstream[at]), int(known.upstream[at])


def faults_among(
    known: Equations,
    pairs: Pairs,
    owns: list[Own],
    values: tuple[Array, Array],
    made: Chance,
    *,
    fresh: set[int],
) -> list[Fault]:
    """What beats every other explanation by the margin, of all beside the cells `fresh`."""
    two = np.flatnonzero((known.upstream >= 0) & (known.downstream >= 0))
    everywhere = _where_odd(known, two, owns, values, made)
    critical = critical_index(known)
    told: list[Fault] = []
    for kind in ("meter", "pair"):
        places = two if kind == "meter" else np.arange(len(pairs.first))
        into = known.downstream if kind == "meter" else pairs.first
        out_of = known.upstream if kind == "meter" else pairs.second
        at, dates = _due(places, into, out_of, owns, fresh, everywhere if kind == "meter" else {})
        for begin in range(0, len(at), _AT_ONCE):
            mine = at[begin : begin + _AT_ONCE]
            suspects = Suspects(mine, dates[begin : begin + _AT_ONCE], into[mine], out_of[mine])
            suspects = replace(
                suspects,
                flows=(known.night_flow_l_s[:, mine], known.day_flow_l_s[:, mine])
                if kind == "meter"
                else None,
                valves=tuple(pairs.valves[i] for i in mine) if kind == "pair" else (),
            )
            kept, found = explained(
                suspects,
                values,
                made=made,
                use_l_s=known.use_l_s,
                factor_share=known.factor_share,
                owns=owns,
                least_statistic_index=critical if kind == "meter" else 0.0,
            )
            told += [_told(kind, int(place), found, n) for n, place in enumerate(mine[kept])]
    return _winners(known, pairs, told)


def _told(kind: str, at: int, found: Faults, n: int) -> Fault:
    return Fault(
        kind,
        at,
        int(found.first[n]),
        int(found.low[n]),
        int(found.high[n]),
        float(found.share[n]),
        float(found.deviation[n]),
        float(found.statistic[n]),
        float(found.odds[n]),
        INDEPENDENT,
        float(found.night_l_s[n]),
        float(found.day_l_s[n]),
    )


def _winners(known: Equations, pairs: Pairs, told: list[Fault]) -> list[Fault]:
    """Those that nothing else about the same cells and days comes near."""
    critical = critical_index(known)
    beside: dict[int, list[Fault]] = {}
    for fault in told:
        for cell in cells_of(known, pairs, fault.kind, fault.at):
            beside.setdefault(cell, []).append(fault)
    winners = []
    for fault in told:
        small = abs(fault.share) < LEAST_SHARE or fault.statistic_index < critical
        if fault.margin_index < MARGIN or (fault.kind == "meter" and small):
            continue
        strongest, runner_up = 0.0, INDEPENDENT
        for cell in cells_of(known, pairs, fault.kind, fault.at):
            for other in beside[cell]:
                same = (other.kind, other.at) == (fault.kind, fault.at)
                if same or abs(other.first - fault.first) > NEAR_DAYS:
                    continue
                if other.margin_index > strongest:
                    strongest = other.margin_index
                    runner_up = _called(known, pairs, other.kind, other.at)
        if fault.margin_index - strongest >= MARGIN:
            left = fault.margin_index - strongest
            winners.append(replace(fault, margin_index=left, runner_up=runner_up))
    return winners


def _where_odd(
    known: Equations, two: Any, owns: list[Own], values: tuple[Array, Array], made: Chance
) -> dict[int, list[int]]:
    """Days on which a meter explains what no change of a cell by itself was found for."""
    if not len(two) or not len(values[0]):
        return {}
    shape = len(values[0]), values[0].shape[1]
    seen, _ = levelled(*values, made, as_steps(owns).added(shape))
    odds = meter_odds(
        seen,
        into=known.downstream[two],
        out_of=known.upstream[two],
        night_flow_l_s=known.night_flow_l_s[:, two],
        day_flow_l_s=known.day_flow_l_s[:, two],
    ).odds
    best = odds.argmax(axis=0)
    return {
        int(meter): [int(day)]
        for meter, day, column in zip(two, best, range(len(two)), strict=True)
        if odds[day, column] > 0
    }


def _due(
    places: Any,
    into: Any,
    out_of: Any,
    owns: list[Own],
    fresh: set[int],
    odd: dict[int, list[int]],
) -> tuple[Any, Any]:
    """Each with the dates at which it may explain what changed in its cells."""
    dates: dict[int, list[int]] = {}
    for own in owns:
        dates.setdefault(own.cell, []).append(own.first)
    due: list[tuple[int, int]] = []
    for at in places.tolist():
        cells = int(into[at]), int(out_of[at])
        if not fresh & set(cells):
            continue
        last = -NEAR_DAYS
        mine: list[Any] = [d for c in cells for d in dates.get(c, ())]
        for date in sorted({*mine, *odd.get(at, ())}):
            if date - last >= NEAR_DAYS:
                due.append((at, date))
                last = date
    found = np.array(due, dtype=int).reshape(-1, 2)
    return found[:, 0], found[:, 1]


def _called(known: Equations, pairs: Pairs, kind: str, at: int) -> str:
    if kind == "meter":
        return f"meter {known.meters[at]}"
    two = f"zone {known.cells[pairs.first[at]]} and zone {known.cells[pairs.second[at]]}"
    return f"water passing unmetered between {two}"
