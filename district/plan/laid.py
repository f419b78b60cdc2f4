"""When each pipe was laid, and what is assumed where nobody knows."""

from __future__ import annotations

import numpy as np
import pandas as pd

from district.break_rates import MEAN_AGE_YEARS, Reals
from district.errors import Finding
from district.words import listed, places, plural

WITHIN_YEAR = 0.5
"""A pipe laid or taken out in a year counts as in its middle; what broke in that year counts."""
_ENOUGH = 5
"""Pipes of a material with known years, from which its others take theirs."""


def laid_years(
    table: pd.DataFrame, *, first_year: float, last_year: float
) -> tuple[Reals, list[str]]:
    """When each pipe was laid, as a decimal year, and what was assumed, in sentences.

    Parameters: `material` and `installed_year` of each row of table PIPE_HISTORY; first and last
    moment of the record. A pipe of no known year was laid with the middle pipe of its material, as
    far as pipes of `last_year` tell, and before the record, as it is watched from there on.
    """
    year = table["installed_year"]
    known = year.where(year < last_year)
    usual = known.groupby(table["material"]).median()
    counted = known.groupby(table["material"]).count()
    usual = usual.where(counted >= _ENOUGH)
    unknown = year.isna()
    by_material = table["material"].map(usual)
    by_age = unknown & by_material.isna()
    middle = (first_year + last_year) / 2
    filled = year.fillna(by_material).fillna(middle - MEAN_AGE_YEARS - WITHIN_YEAR)
    laid = filled.to_numpy(dtype=float) + WITHIN_YEAR
    said = []
    if (unknown & ~by_age).any():
        said.append(
            f"{plural(int((unknown & ~by_age).sum()), 'pipe')} of no known year "
            "counted as laid with the middle pipe of the same material, and before the record."
        )
    if by_age.any():
        said.append(
            f"{plural(int(by_age.sum()), 'pipe')} of no known year, of materials whose years are "
            f"hardly known, counted as {MEAN_AGE_YEARS:.0f} years old in the middle of the record."
        )
    return np.where(unknown, np.minimum(laid, first_year), laid), said


def not_yet_laid(table: pd.DataFrame, *, year: int, source: str) -> list[Finding]:
    """Pipes in use of years after that of the plan; `table` PIPE_HISTORY, `source` of the pipes."""
    late = table[table["in_use"].astype(bool) & (table["installed_year"] > year)]
    if late.empty:
        return []
    years = listed([f"{y:.0f}" for y in sorted(set(late["installed_year"]))])
    return [
        Finding(
            "warning",
            source,
            places("pipe", late["pipe_id"]),
            "installed_year",
            got=f"{years}, though in use, for a plan of {year}",
            expected=f"a year up to {year}, or status planned",
            remedy="Correct one of the two; until then it counts as new, and was never watched",
            count=len(late),
        )
    ]
