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


def balance_terms(annual: pd.DataFrame) -> dict[int, Terms]:
    """Row number in table ANNUAL -> rows its volume is made of.

    A line that rests on a difference is its parent less its brothers; any other line with lines
    beneath it is their sum.
    """
    found: dict[int, Terms] = {}
    numbered = annual.reset_index(drop=True)
    for _, part in numbered.groupby("cell_id", sort=False):
        rows = [int(i) for i in part.index]
        levels = dict(zip(rows, (int(v) for v in part["level"]), strict=True))
        parents = _parents(rows, levels)
        values = dict(zip(rows, part["volume_m3"].astype(float), strict=True))
        for row in rows:
            parent = parents[row]
            brothers = tuple(r for r in rows if parents[r] == parent and r != row)
            children = tuple(r for r in rows if parents[r] == row)
            if part.loc[row, "rests_on"] == "difference" and parent is not None:
                terms: Terms = ((parent,), brothers)
            elif children and part.loc[row, "rests_on"] != "measured":
                terms = (children, ())
            else:
                continue
            if _explains(values, row, terms):
                found[row] = terms
    return _without_rings(found)


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


def _without_rings(found: dict[int, Terms]) -> dict[int, Terms]:
    kept: dict[int, Terms] = {}

    def reaches(row: int, goal: int) -> bool:
        plus, minus = kept.get(row, ((), ()))
        return any(r == goal or reaches(r, goal) for r in (*plus, *minus))

    for row, terms in found.items():
        if not any(r == row or reaches(r, row) for r in (*terms[0], *terms[1])):
            kept[row] = terms
    return kept
