"""Which cells of the workbook are sums of others, so that they can be live formulas.

A formula is used only where it gives the figure the method gave: the cell's own value is kept
with it, and a figure its neighbours do not explain stays a number.
"""

from __future__ import annotations

import math
from collections.abc import Sequence

import pandas as pd

Terms = tuple[tuple[int, ...], tuple[int, ...]]
"""Row numbers to add, and to take away."""


_ACROSS = {"non-revenue water": ("unbilled authorised consumption", "water losses")}
"""Lines of the standard balance that are sums across its tree."""
_BESIDE = ("water from own sources", "water imported")
"""Lines that say where the line above them comes from, and are no part of where it goes."""


def balance_terms(annual: pd.DataFrame) -> dict[int, Terms]:
    """Row number in table ANNUAL -> rows its volume is made of.

    A line that rests on a difference is its parent less the brothers above it; this or any other
    line that is not measured may be the sum of the lines beneath it. Whichever comes first and
    gives the line's own figure is taken.
    """
    found: dict[int, Terms] = {}
    numbered = annual.reset_index(drop=True)
    for _, part in numbered.groupby("cell_id", sort=False):
        rows = [int(i) for i in part.index]
        levels = dict(zip(rows, (int(v) for v in part["level"]), strict=True))
        named = {str(n).lower(): row for row, n in zip(rows, part["component"], strict=True)}
        values = dict(zip(rows, part["volume_m3"].astype(float), strict=True))
        parents = _parents(rows, levels)
        for row in rows:
            rests, name = part.loc[row, "rests_on"], str(part.loc[row, "component"]).lower()
            across = tuple(named[n] for n in _ACROSS.get(name, ()) if n in named)
            below = tuple(r for r, p in parents.items() if p == row)
            candidates: list[Terms] = [(across, ()), (below, ())]
            parent = parents[row]
            if rests == "difference" and parent is not None:
                beside = {named[n] for n in _BESIDE if n in named}
                above = tuple(
                    r for r in rows if r < row and parents[r] == parent and r not in beside
                )
                candidates.insert(1, ((parent,), above))
            for terms in candidates if rests != "measured" else ():
                if terms[0] and _explains(values, row, terms) and not _ring(found, row, terms):
                    found[row] = terms
                    break
    return found


def _parents(rows: Sequence[int], levels: dict[int, int]) -> dict[int, int | None]:
    above: dict[int, int] = {}
    parents: dict[int, int | None] = {}
    for row in rows:
        level = levels[row]
        parents[row] = above.get(level - 1)
        above = {k: v for k, v in above.items() if k < level} | {level: row}
    return parents


def _explains(values: dict[int, float], row: int, terms: Terms) -> bool:
    total = sum(values[r] for r in terms[0]) - sum(values[r] for r in terms[1])
    return math.isclose(total, values[row], rel_tol=1e-6, abs_tol=0.5)


def _ring(found: dict[int, Terms], row: int, terms: Terms) -> bool:
    """Whether the formula would refer to its own cell, through others or at once."""
    return any(r == row or _ring(found, row, found.get(r, ((), ()))) for r in sum(terms, ()))
