"""Meters that went wrong, told from leaks, use and unmetered flows, over a whole record.

Every change is first explained within its own cell. Where a meter or an unmetered flow between
two cells explains the same shifts of both better than that, by a stated margin, it is named, its
shifts are taken off, and the rest is looked at again (serial compensation; Narasimhan & Mah 1987,
AIChE J 33(9), from memory).
"""

from __future__ import annotations

from typing import Any

import numpy as np

from district.balance.contest import Chance, Pairs
from district.balance.equations import Equations
from district.balance.limits import Array
from district.balance.naming import Fault, cells_of, contested
from district.balance.own_changes import (
    APART_DAYS,
    NEAR_DAYS,
    Own,
    chance_of,
    own_changes,
    take_off,
)
from district.balance.shifts import LEAST_AFTER, WINDOW_DAYS, without_rhythm

_ROUNDS = 6
_HIDDEN = 5.0  # deviations of a cell's shift, of night and day together, that may hide one


def find_faults(known: Equations, *, pairs: Pairs) -> tuple[Fault, ...]:
    """Meters and unmetered flows that shifted the cells on both their sides, oldest first."""
    scale = np.maximum(known.use_l_s, 0.01)
    weekday = int(known.days[0].day_of_week) if len(known.days) else 0
    share = known.metered_share
    night, day = (
        without_rhythm(v, scale_l_s=scale, first_weekday=weekday, metered_share=share)
        for v in (known.night_l_s, known.day_l_s)
    )
    owns = own_changes(known, night, day)
    found: list[Fault] = []
    fresh = {own.cell for own in owns}
    for _ in range(_ROUNDS):
        bare = night.copy(), day.copy()
        take_off(owns, bare)
        made = chance_of(known, bare)
        candidates = []
        for kind, at, date in _due(known, pairs, owns, made, fresh):
            fault = contested(known, pairs, owns, bare, made, kind, at, date)
            if fault is not None:
                candidates.append(fault)
        taken, fresh = [], set[int]()
        for fault in sorted(candidates, key=lambda f: (-f.margin_index, f.kind, f.at)):
            cells = set(cells_of(known, pairs, fault.kind, fault.at))
            if not cells & fresh:
                taken.append(fault)
                fresh |= cells
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


def _due(
    known: Equations, pairs: Pairs, owns: list[Own], made: Chance, fresh: set[int]
) -> list[tuple[str, int, int]]:
    """Every meter and pair with the dates at which it may explain what changed in its cells.

    Both changed the opposite way within days; or one did, by so little that it would not show in
    the other.
    """
    dates: dict[int, list[Own]] = {}
    for own in owns:
        dates.setdefault(own.cell, []).append(own)
    hidden = _HIDDEN * np.sqrt(
        made.day.white * (1 / LEAST_AFTER + 1 / WINDOW_DAYS) + made.day.drift * WINDOW_DAYS / 3
    )
    two = np.flatnonzero((known.upstream >= 0) & (known.downstream >= 0))
    kinds = [("meter", int(i)) for i in two] + [("pair", i) for i in range(len(pairs.first))]
    due = []
    for kind, at in kinds:
        cells = cells_of(known, pairs, kind, at)
        if not fresh & set(cells):
            continue
        last = -WINDOW_DAYS
        for date in sorted(o.first for c in cells for o in dates.get(c, ())):
            if date - last <= NEAR_DAYS:
                continue
            moved = [
                sum(
                    o.day_l_s + o.night_l_s
                    for o in dates.get(c, ())
                    if abs(o.first - date) <= APART_DAYS
                )
                for c in cells
            ]
            # A flow with two free sizes is never told from a change in one cell alone.
            silent = [c for c, m in zip(cells, moved, strict=True) if m == 0.0 and kind == "meter"]
            largest = max(abs(m) for m in moved)
            if moved[0] * moved[1] < 0 or any(largest < hidden[c] for c in silent):
                due.append((kind, at, date))
                last = date
    return due
