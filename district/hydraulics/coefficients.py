"""Roughness of a pipe that the layer does not tell, and the groups of pipes fitted together."""

from __future__ import annotations

from itertools import pairwise
from typing import Any

import numpy as np
import pandas as pd

from district.hydraulics.model import Reals
from district.words import spelled

USUAL_C: dict[str, float] = {
    "ductile_iron": 130.0,
    "asbestos_cement": 135.0,
    "pvc": 145.0,
    "polyethylene": 145.0,
    "concrete": 120.0,
    "grp": 145.0,
    "copper": 135.0,
    "lead": 130.0,
    "unknown": 110.0,
}
"""Hazen-Williams C in service of materials that hardly change with age (handbook tables, from
memory: cement-lined iron 130 to 140, asbestos cement 140, plastics 145 to 150, concrete 120 to
130; the lower end, as joints, bends and branches are not drawn). Unknown: an assumption."""
AGED_C: dict[str, tuple[float, ...]] = {
    "cast_iron": (130.0, 107.0, 95.0, 83.0, 75.0, 65.0, 60.0),
    "steel": (140.0, 120.0, 110.0, 102.0, 96.0, 88.0, 84.0),
}
"""The same at `AGES_YEARS` for iron and steel without lining (cast iron from memory after Williams
& Hazen's tables: new 130, 10 years 107 to 113, 20 years 89 to 100, 30 years 75 to 90, 40 years 64
to 83; the rest common practice, no source)."""
AGES_YEARS = (0.0, 10.0, 20.0, 30.0, 40.0, 60.0, 80.0)
UNKNOWN_AGE_YEARS = 50.0
"""Taken for iron and steel of unknown age. Assumption."""
_BANDS = (1940, 1970, 2000)
_AGED_GROUPS = ("cast_iron", "ductile_iron", "steel", "asbestos_cement", "concrete")


def usual_roughness(pipes: pd.DataFrame, *, year: int | None = None) -> Reals:
    """Hazen-Williams C of each pipe by its material and age; columns material, installed_year.

    `year` in which pipes have their age; that in which the last one was laid if None.
    """
    material = _material(pipes)
    laid = pipes["installed_year"].to_numpy(dtype=float)
    now = np.nanmax(laid, initial=-np.inf) if year is None else float(year)
    age = np.where(np.isnan(laid), UNKNOWN_AGE_YEARS, np.maximum(now - laid, 0.0))
    c = material.map(USUAL_C).fillna(USUAL_C["unknown"]).to_numpy(dtype=float)
    for name, by_age in AGED_C.items():
        c = np.where(material == name, np.interp(age, AGES_YEARS, by_age), c)
    return np.asarray(c)


def roughness_groups(pipes: pd.DataFrame) -> Any:
    """The group each pipe is fitted with: its material, and its age where the material ages.

    >>> roughness_groups(pd.DataFrame({"material": ["pvc"], "installed_year": [1990.0]}))[0]
    'PVC'
    """
    material = _material(pipes)
    year = pipes["installed_year"].to_numpy(dtype=float)
    laid = np.array(
        [
            f"laid before {_BANDS[0]}",
            *(f"laid {a} to {b - 1}" for a, b in pairwise(_BANDS)),
            f"laid since {_BANDS[-1]}",
            "age unknown",
        ],
        dtype=object,
    )
    band = np.where(np.isnan(year), len(laid) - 1, np.searchsorted(_BANDS, year, side="right"))
    said = ["unknown material" if m == "unknown" else spelled(m) for m in material]
    ages = material.isin(_AGED_GROUPS).to_numpy()
    return np.array(
        [f"{m}, {laid[b]}" if a else m for m, b, a in zip(said, band, ages, strict=True)],
        dtype=object,
    )


def _material(pipes: pd.DataFrame) -> pd.Series[Any]:
    known = pipes["material"].astype(object)
    return known.where(known.notna(), "unknown").astype(str)
