"""The unit of a column, by its name, its values and what is drawn."""

from __future__ import annotations

from typing import Any

import numpy as np

from district.intake.heading_units import QUANTITY, split_unit
from district.intake.proposal import Sureness
from district.intake.trade_words import unit_in, words
from district.units import factor, suffix_of

_INCH_BORES = (
    0.5, 0.75, 1, 1.25, 1.5, 2, 2.5, 3, 4, 5, 6, 7, 8, 9, 10, 12, 14, 15, 16, 18, 20, 21, 24, 27,
    28, 30, 32, 33, 36, 40, 42, 48, 54, 60, 66, 72, 78, 84,
)  # fmt: skip
"""Sizes of pipe sold and recorded in inches (common practice, no source)."""
_TELLING_INCHES = (2, 3, 4, 5, 6, 8, 10, 12)
"""No main is as few millimetres wide."""
_MOST = 0.9
_NEAR_SHARE = 0.15
Array = np.ndarray[Any, Any]


def guess_unit(
    ours: str, theirs: str, values: Array, *, drawn_m: Array | None = None
) -> tuple[str, Sureness, str]:
    """The unit to state for a column, how sure, and why; '' where it is ours or none that is told.

    `values` are the column's numbers, NaN where there is none; `drawn_m` the drawn length of the
    same rows in metres.
    """
    our_unit = suffix_of(ours)
    if our_unit in ("l", "litres_per_pulse") and "gallon" in words(theirs):
        return "gal", "sure", "its name says gal"
    if our_unit == "l_s":
        stated = split_unit(theirs)[1]
        rate = QUANTITY.get(stated) == "rate" and stated != "l/s"
        return (stated, "sure", f"its name says {stated}") if rate else ("", "sure", "")
    if our_unit not in ("mm", "m"):
        return "", "sure", ""
    said = unit_in(theirs)
    there = values[np.isfinite(values) & (values > 0)]
    if ours == "diameter_mm" and len(there):
        seen, sureness, why = _bore_unit(there)
        if not said:
            return ("" if seen == our_unit else seen), sureness, why
        if seen == said:
            return ("" if said == our_unit else said), "sure", why
        why = f"its name says {said}, but {why}"
        return ("" if said == our_unit else said), "unsure", why
    if ours == "length_m" and drawn_m is not None:
        drawn = _drawn_unit(values, drawn_m)
        if drawn:
            why = f"the drawn lines are as long in {drawn}"
            return ("" if drawn == our_unit else drawn), "sure", why
    if said:
        return ("" if said == our_unit else said), "sure", f"its name says {said}"
    return "", "sure", ""


def _bore_unit(there: Array) -> tuple[str, Sureness, str]:
    span = f"{there.min():g} to {there.max():g}"
    inch = float(np.isin(there, _INCH_BORES).mean())
    if there.max() <= max(_INCH_BORES) and inch >= _MOST:
        telling = float(np.isin(there, _TELLING_INCHES).mean())
        if telling >= 0.5:
            return "in", "likely", f"values {span} look like bores in inches"
        return "in", "unsure", f"values {span} may be inches or mm"
    if there.max() <= 3.0 and there.min() < 1.0:
        return "m", "likely", f"values {span} look like bores in metres"
    if np.median(there) >= 25:
        return "mm", "sure", ""
    return "mm", "unsure", f"values {span} are strange for bores in mm"


def _drawn_unit(values: Array, drawn_m: Array) -> str:
    good = np.isfinite(values) & (values > 0) & np.isfinite(drawn_m) & (drawn_m > 0)
    if good.sum() < 3:
        return ""
    ratio = float(np.median(values[good] / drawn_m[good]))
    for unit in ("m", "ft", "km", "cm"):
        if abs(ratio * factor(unit, "m", quantity="length") - 1.0) <= _NEAR_SHARE:
            return unit
    return ""
