"""Published rates of breaks of mains and connections, and how much water a break lets out.

What both the search for a leak and the plan of renewal begin from, before a district's own breaks.
"""

from __future__ import annotations

from typing import Any

import numpy as np
import pandas as pd

Reals = np.ndarray[Any, np.dtype[np.float64]]
Flags = np.ndarray[Any, np.dtype[np.bool_]]

KM_100_MILES = 160.9344
BREAKS_PER_100_MILES_YEAR: dict[str, float] = {
    "cast_iron": 34.8,
    "ductile_iron": 5.5,
    "pvc": 2.3,
    "asbestos_cement": 10.4,
    "steel": 7.6,
    "unknown": 14.0,
}
"""Breaks of mains in the USA and Canada per 100 miles a year.

Source: Folkman 2018, Water Main Break Rates in the USA and Canada, Utah State University: all
pipes 14 as published; the materials from memory.
"""
TAKEN_AS = {"polyethylene": "pvc"}
"""Materials without a rate of their own, and the one they are taken as (an assumption)."""
MAINS_BURSTS = ((0.124, 12.0), (0.006, 6.0))
"""Breaks per km a year and m³/h at 50 m of pressure: reported, and found by a survey.

Source: Lambert, Brown, Takizawa & Weimer 1999, J Water SRT - Aqua 48(6) 227 (from memory). The
flows agree with 44 and 22 gal/h/psi as printed (Thornton, Sturm & Kunkel 2008, Water Loss Control,
2nd ed., table 10.8).
"""
SERVICE_BURST_M3_H = 1.6
"""Flow of a burst connection at 50 m, reported or not. Same sources (6 gal/h/psi as printed)."""
AT_PRESSURE_M = 50.0
"""These flows are in proportion to pressure, as they are printed by psi."""
MEAN_AGE_YEARS = 50.0
"""Age at which the rate by material holds. Assumption: near the mean age at failure, 53 years
(Barfuss 2024, Water Main Break Rates in the USA and Canada, Utah State University)."""
BORE_POWER = 0.3
"""Breaks go with diameter to the power -0.3. Common practice, no source: small mains, with their
thin walls and many tappings, break more."""
BORE_SPREAD = 0.3
"""95 % limit of that power. Assumption."""
BORE_MM = 150.0
BORE_REACH = (50.0, 600.0)
"""Diameters outside count as these. Assumption."""


def mains_rate_per_km_year(material: pd.Series[Any]) -> Reals:
    """Published breaks of mains per km a year by material; the all-pipes rate where unknown."""
    known = {**BREAKS_PER_100_MILES_YEAR}
    known.update({new: known[old] for new, old in TAKEN_AS.items()})
    per_100_miles = material.map(known).fillna(known["unknown"])
    return np.asarray(per_100_miles.to_numpy(dtype=float) / KM_100_MILES, dtype=float)


def bore_log(diameter_mm: pd.Series[Any]) -> Reals:
    """Logarithm of diameter over 150 mm, within reach; 0 where it is not known."""
    bore = np.clip(diameter_mm.to_numpy(dtype=float), *BORE_REACH) / BORE_MM
    return np.asarray(np.nan_to_num(np.log(bore)), dtype=float)


STRAY_SHARE = 0.02
STRAY_CHANCE = 1e-6
"""So small a share of the breaks (or a single one) stands apart from the record, before or after a
gap that chance alone would leave so rarely. Assumptions: it is rather a date mistyped, or a repair
long before a record was kept."""
_LEAST_TO_JUDGE = 8


def of_the_record(when: Reals) -> Flags:
    """Which of these moments (years) are of one record, shape (n): those that a gap sets apart from
    all the others, few of them and before or after it, are not.

    Of n moments evenly over a span the chance that any two neighbours lie more than the share x of
    it apart is at most (n - 1) (1 - x)^(n - 2) (spacings of uniform numbers; David & Nagaraja,
    Order Statistics, 3rd ed., section 6.4; from memory).
    """
    kept = np.ones(len(when), dtype=bool)
    order = np.argsort(when, kind="stable")
    while (count := int(kept.sum())) >= _LEAST_TO_JUDGE:
        own = order[kept[order]]
        gaps = np.diff(when[own])
        few = max(1, int(STRAY_SHARE * count))
        # Only gaps beside the ends: a rest that one sets apart is most of the record.
        ends = np.r_[np.arange(min(few, len(gaps))), np.arange(len(gaps) - few, len(gaps))]
        widest = int(ends[np.argmax(gaps[ends])])
        share = gaps[widest] / max(float(when[own[-1]] - when[own[0]]), 1e-9)
        if (count - 1) * (1.0 - share) ** (count - 2) > STRAY_CHANCE:
            break
        kept[own[: widest + 1] if widest < few else own[widest + 1 :]] = False
    return kept


def watched_years(when: Reals, *, year: int) -> tuple[float, float]:
    """How long a record of breaks was kept, and when it ended, in years, from its dates alone.

    The span between the first and the last of n breaks is on average (n - 1) / (n + 1) of the
    time watched, if they fall evenly. A single break: from then to the end of `year`. None: no
    history at all, which is not the same as no breaks. Moments that stand apart do not count
    (`of_the_record`).
    """
    when = when[of_the_record(when)]
    if not len(when):
        return 0.0, float(year)
    if len(when) == 1:
        return max(1.0, year + 1 - float(when[0])), year + 1.0
    span = float(when.max() - when.min())
    years = max(1.0, span * (len(when) + 1) / (len(when) - 1))
    return years, float(when.max()) + (years - span) / 2
