"""Meters that went wrong, told from leaks, use and unmetered flows, over a whole record.

Every change is first explained within its own cell. Where a meter or an unmetered flow between
two cells explains the same shifts of both better than that, by a stated margin, it is named, its
shifts are taken off, and the rest is looked at again (serial compensation; Narasimhan & Mah 1987,
AIChE J 33(9), from memory).
"""

from __future__ import annotations

from typing import Any

import numpy as np

from district.balance.contest import Pairs
from district.balance.equations import Equations
from district.balance.naming import Fault, cells_of, faults_among
from district.balance.own_changes import chance_of, own_changes, take_off
from district.balance.shifts import tamed, without_rhythm
from district.estimates import Array

_ROUNDS = 6


def find_faults(known: Equations, *, pairs: Pairs) -> tuple[Fault, ...]:
    """Meters and unmetered flows that shifted the cells on both their sides, oldest first."""
    scale = np.maximum(known.use_l_s, 0.01)
    weekday = int(known.days[0].day_of_week) if len(known.days) else 0
    share = known.metered_share
    night, day = (
        without_rhythm(v, scale_l_s=scale, first_weekday=weekday, metered_share=share)
        for v in (known.night_l_s, known.day_l_s)
    )
    cells = _checkable(known, pairs)
    owns = own_changes(known, night, day, cells=cells)
    found: list[Fault] = []
    fresh = set(cells)
    for _ in range(_ROUNDS):
        bare = night.copy(), day.copy()
        take_off(owns, bare)
        made = chance_of(known, bare)
        values = tamed(night, made.night), tamed(day, made.day)
        candidates = faults_among(known, pairs, owns, values, made, fresh=fresh)
        taken, fresh = [], set[int]()
        for fault in sorted(candidates, key=lambda f: (-f.margin_index, f.kind, f.at)):
            both = set(cells_of(known, pairs, fault.kind, fault.at))
            if not both & fresh:
                taken.append(fault)
                fresh |= both
        if not taken:
            break
        for fault in taken:
            take_off_fault(known, pairs, fault, (night, day))
        again = own_changes(known, night, day, cells=sorted(fresh))
        owns = sorted(
            [o for o in owns if o.cell not in fresh] + again, key=lambda o: (o.cell, o.first)
        )
        found += taken
    return tuple(sorted(found, key=lambda f: (f.first, f.kind, f.at)))


def take_off_fault(
    known: Equations, pairs: Pairs, fault: Fault, values: tuple[Array, Array]
) -> None:
    """Take what the fault does to both its cells off the residuals, in place."""
    since = slice(fault.first, None)
    into, out_of = cells_of(known, pairs, fault.kind, fault.at)
    flows = known.night_flow_l_s, known.day_flow_l_s
    for left, flow, constant in zip(values, flows, (fault.night_l_s, fault.day_l_s), strict=True):
        moved: Any = constant
        if fault.kind == "meter":
            moved = fault.share * np.nan_to_num(flow[since, fault.at])
        left[since, into] -= moved
        left[since, out_of] += moved


def _checkable(known: Equations, pairs: Pairs) -> list[int]:
    """Cells with another beside them that is balanced: nothing can be said of the rest."""
    two = (known.upstream >= 0) & (known.downstream >= 0)
    ends = (known.upstream[two], known.downstream[two], pairs.first, pairs.second)
    return [int(cell) for cell in np.unique(np.concatenate(ends))]
