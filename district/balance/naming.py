"""Whether a meter, or an unmetered flow, explains the shifts about a date better than all else."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any

import numpy as np
from scipy.stats import chi2

from district.balance.contest import (
    Chance,
    MeterOdds,
    Observed,
    Pairs,
    alone,
    meter_odds,
    observed,
    pair_odds,
)
from district.balance.dating import first_days
from district.balance.equations import Equations
from district.balance.limits import Array
from district.balance.own_changes import APART_DAYS, NEAR_DAYS, Own, per_year, take_off
from district.balance.shifts import WINDOW_DAYS

MARGIN = float(np.log(3.0))
"""A meter is named only at 3 to 1 against every other explanation of the same shifts."""
FALSE_ALARM_SHARE = 0.01
"""Chance that in a record without faults any meter passes the critical value."""
INDEPENDENT = "changes of leakage or use in both zones on the same days"


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


@dataclass(frozen=True, eq=False)
class _Near:
    """A meter's or pair's cells and all that touch them, about one date; positions in the whole."""

    cells: Any
    meters: Any
    pairs: Any
    begin: int
    known: Equations
    here: Pairs
    seen: Observed
    chance: Chance
    values: tuple[Array, Array]


def critical_index(known: Equations) -> float:
    """Chi-square value (one degree) that no meter passes by chance in 99 of 100 such records.

    Every meter and every week of the record counts as one trial (Bonferroni).
    """
    two = int(((known.upstream >= 0) & (known.downstream >= 0)).sum())
    trials = max(two, 1) * max(len(known.days) / NEAR_DAYS, 1.0)
    return float(chi2.isf(FALSE_ALARM_SHARE / trials, 1))


def cells_of(known: Equations, pairs: Pairs, kind: str, at: int) -> tuple[int, int]:
    """The cell it adds water to, on paper, and the one it takes it from."""
    if kind == "pair":
        return int(pairs.first[at]), int(pairs.second[at])
    return int(known.downstream[at]), int(known.upstream[at])


def contested(
    known: Equations,
    pairs: Pairs,
    owns: list[Own],
    bare: tuple[Array, Array],
    made: Chance,
    kind: str,
    at: int,
    date: int,
) -> Fault | None:
    """The fault, if about `date` it beats every other explanation by the margin."""
    near = _near(known, pairs, owns, bare, made, kind, at, date)
    reach = slice(max(date - NEAR_DAYS - near.begin, 0), date + NEAR_DAYS + 1 - near.begin)
    seen = near.seen.on(reach)
    meters = meter_odds(near.known, seen, days=reach)
    pair = pair_odds(seen, near.here, use_l_s=near.known.use_l_s)
    elsewhere = [o for o in owns if abs(o.first - date) > NEAR_DAYS]
    by_itself, _, _ = alone(
        seen,
        use_l_s=near.known.use_l_s,
        factor_share=near.known.factor_share,
        per_year=per_year(elsewhere, cells=near.cells, days_count=len(known.days)),
    )
    best_alone = by_itself.max(axis=0)
    own, rivals = -np.inf, [(0.0, INDEPENDENT)]
    when, mine = 0, 0
    for other, odds in (("meter", meters.odds), ("pair", pair[0])):
        names = near.meters[meters.meters] if other == "meter" else near.pairs
        for i, name in enumerate(names):
            place = int(meters.meters[i]) if other == "meter" else i
            cells = list(cells_of(near.known, near.here, other, place))
            gain = float(odds[:, i].max() - best_alone[cells].sum())
            if (other, int(name)) == (kind, at):
                own, mine, when = gain, i, int(odds[:, i].argmax())
            else:
                rivals.append((gain, _called(known, pairs, other, int(name))))
    strongest, runner_up = max(rivals)
    if own - strongest < MARGIN:
        return None
    fault = _fault(
        known, near, meters, pair, kind, at, mine, (when, reach.start + when), own - strongest
    )
    return fault and replace(fault, runner_up=runner_up)


def _fault(
    known: Equations,
    near: _Near,
    meters: MeterOdds,
    pair: tuple[Array, Array, Array],
    kind: str,
    at: int,
    mine: int,
    dates: tuple[int, int],
    margin_index: float,
) -> Fault | None:
    """What the winner is: `dates` its position among the odds, and among the days of `near`."""
    when, here = dates
    if kind == "meter":
        place = int(meters.meters[mine])
        after = slice(here, here + WINDOW_DAYS)
        flows = [f[after, place] for f in (near.known.night_flow_l_s, near.known.day_flow_l_s)]
        size = _mean(flows[0]), _mean(flows[1])
        cells = cells_of(near.known, near.here, "meter", place)
        statistic = float(meters.statistic[when, mine])
        if statistic < critical_index(known):
            return None
    else:
        size = float(pair[1][when, mine]), float(pair[2][when, mine])
        cells = cells_of(near.known, near.here, "pair", mine)
        statistic = 2.0 * float(pair[0][when, mine])
    low, high = first_days(near.values, near.seen, near.chance, cells=cells, size_l_s=size, at=here)
    first, low, high = (near.begin + position for position in (here, low, high))
    fault = Fault(kind, at, first, low, high, 0.0, 0.0, statistic, margin_index, "")
    if kind == "pair":
        return replace(fault, night_l_s=size[0], day_l_s=size[1])
    return replace(
        fault,
        share=float(meters.share[when, mine]),
        share_deviation=float(meters.deviation[when, mine]),
    )


def _mean(values: Array) -> float:
    known = values[np.isfinite(values)]
    return float(known.mean()) if len(known) else 0.0


def _near(
    known: Equations,
    pairs: Pairs,
    owns: list[Own],
    bare: tuple[Array, Array],
    made: Chance,
    kind: str,
    at: int,
    date: int,
) -> _Near:
    """Residuals about `date` with only what changed about then left in."""
    mine = set(cells_of(known, pairs, kind, at))
    up, down = known.upstream, known.downstream
    list_mine = list(mine)
    touching = np.flatnonzero(
        (up >= 0) & (down >= 0) & (np.isin(up, list_mine) | np.isin(down, list_mine))
    )
    linked = np.flatnonzero(np.isin(pairs.first, list_mine) | np.isin(pairs.second, list_mine))
    cells = np.unique(
        np.concatenate(
            [list_mine, up[touching], down[touching], pairs.first[linked], pairs.second[linked]]
        ).astype(int)
    )
    place = {int(c): i for i, c in enumerate(cells)}
    begin = max(0, date - WINDOW_DAYS - NEAR_DAYS)
    days = slice(begin, date + WINDOW_DAYS + 2 * NEAR_DAYS + 1)
    values = bare[0][days][:, cells].copy(), bare[1][days][:, cells].copy()
    back = [
        replace(o, cell=place[o.cell], first=max(o.first - begin, 0))
        for o in owns
        if o.cell in place and abs(o.first - date) <= APART_DAYS
    ]
    take_off(back, values, back=True)
    here = Pairs(
        np.array([place[int(c)] for c in pairs.first[linked]], dtype=int),
        np.array([place[int(c)] for c in pairs.second[linked]], dtype=int),
        tuple(pairs.valves[i] for i in linked),
    )
    local = replace(
        known,
        days=known.days[days],
        cells=known.cells[cells],
        meters=known.meters[touching],
        upstream=np.array([place[int(c)] for c in up[touching]], dtype=int),
        downstream=np.array([place[int(c)] for c in down[touching]], dtype=int),
        night_l_s=values[0],
        day_l_s=values[1],
        night_flow_l_s=known.night_flow_l_s[days][:, touching],
        day_flow_l_s=known.day_flow_l_s[days][:, touching],
        factor_share=known.factor_share[cells],
        use_l_s=known.use_l_s[cells],
        metered_share=known.metered_share[days],
    )
    chance = made.of(cells)
    seen = observed(*values, chance)
    return _Near(cells, touching, linked, begin, local, here, seen, chance, values)


def _called(known: Equations, pairs: Pairs, kind: str, at: int) -> str:
    if kind == "meter":
        return f"meter {known.meters[at]}"
    two = f"{known.cells[pairs.first[at]]} and {known.cells[pairs.second[at]]}"
    return f"water passing unmetered between {two}"
