"""Amounts written out: '6"', 'DN150', '12 ft 6 in', '110x6.6', '4 bar' as numbers and units."""

from __future__ import annotations

import re
import unicodedata
from dataclasses import dataclass
from typing import Any

import numpy as np
import pandas as pd

from district.intake.heading_units import spellings
from district.intake.tabular import numbers
from district.schema.inputs import PRESSURES
from district.units import factor, suffix_of

_LENGTHS = {
    "mm": "mm millimetre millimetres millimeter millimeters",
    "cm": "cm centimetre centimetres centimeter centimeters",
    "m": "m mtr mtrs metre metres meter meters metro metros mètre mètres",
    "km": "km kilometre kilometres kilometer kilometers",
    "in": "in ins inch inches \" '' ″ zoll pouce pouces pulgada pulgadas pollici duim",
    "ft": "ft feet foot ' ′ fuß fuss pied pieds pies",
}
_SHARES = {"%": "% percent prozent"}
"""Our unit -> how it is written (common practice, no source); others: see `heading_units`."""
_NUMBER = r"[\d.,\u00a0\u202f' ]*\d"
_WHOLE_AND_PART = re.compile(r"(?:(\d+)(?:\s+|\s*-\s*))?(\d+)\s*[/\u2044]\s*(\d+)(?:\s*(\D.*))?")
_INCH_PARTS = (2, 4, 8, 16, 32, 64)
_FEET_INCHES = re.compile(
    r"(\d+)\s*(?:'|′|ft\.?|feet|foot)\s*-?\s*(\d+(?:[.,]\d+)?)\s*(?:\"|''|″|in\.?|inch|inches)?"
)
_NOMINAL = re.compile(r"(?:dn|nd|nw|nb)\s*[-.:]?\s*(\d+(?:[.,]\d+)?)\s*(\D.*)?")
_WALLED = re.compile(rf"({_NUMBER})\s*(mm)?\s*[x×*/]\s*({_NUMBER})\s*(mm)?")
_RATIO = re.compile(rf"({_NUMBER})\s*(mm)?\s*[,;/-]?\s*sdr\s*-?\s*({_NUMBER})")
_ROUND = re.compile(r"^(?:ø|⌀|φ|∅|dia(?:m(?:eter)?)?\.?|od|da|de|d)\s*[-.:=]?\s*")
_PLAIN = re.compile(rf"([-+]?{_NUMBER})\s*(\D*[³3]?)")
_PER_PULSE = re.compile(r"\s*(?:/|per)\s*(?:p|imp|impuls|impulse|puls|pulse)s?$")
_LEAST_MM = 16.0
"""Plastic pipe is sold by outside diameter in mm from this size on; none is as wide in inches
and called by its wall (common practice, no source)."""


@dataclass(frozen=True, eq=False)
class Amounts:
    """Texts read as amounts, one entry a text."""

    values: np.ndarray[Any, np.dtype[np.float64]]
    """In `units`; NaN where the text is no amount."""
    units: np.ndarray[Any, np.dtype[np.object_]]
    """The unit that the text itself says, '' if none."""
    walled: np.ndarray[Any, np.dtype[np.bool_]]
    """Outside diameter and wall were given, and the bore worked out."""


def read_amounts(texts: pd.Series[Any], name: str) -> Amounts:
    """Texts of the column `name` as amounts with the unit each says.

    Understood are units behind a number, fractions, feet with inches, and in diameters also DN
    (a nominal bore in mm), a sign for diameter, and outside diameter with wall ('110x6.6') or
    SDR ('110 SDR 17'; the ratio of outside diameter to wall, ISO 4427, from memory): the bore is
    then the outside less twice the wall.
    """
    unique, codes = _unique(texts)
    known = _written(name)
    bore = name == "diameter_mm"
    parts = [_parts(text, known, bore=bore) for text in unique]
    # A column's decimal commas are judged together, as in numbers without units.
    said = numbers(pd.Series([number for number, _, _, _ in parts], dtype=object))
    other = numbers(pd.Series([second for _, _, second, _ in parts], dtype=object))
    values, walled = np.full(len(unique), np.nan), np.zeros(len(unique), dtype=bool)
    for n, (_, _, _, how) in enumerate(parts):
        values[n] = _value(how, said[n], other[n])
        walled[n] = how in ("wall", "sdr") and values[n] > 0
    units = np.array([unit for _, unit, _, _ in parts], dtype=object)
    units[walled & (units == "") & (said >= _LEAST_MM)] = "mm"
    return Amounts(values[codes], units[codes], walled[codes])


def own_unit_factor(unit: str, name: str) -> float:
    """How many of the column's own units one `unit` of a text is."""
    quantity = quantity_of(name)
    if quantity in ("", "share"):
        return 1.0
    return factor(unit, _target(name), quantity=quantity)


def quantity_of(name: str) -> str:
    """What a column measures: length, pressure, volume, rate, share; '' for what has no unit."""
    if name in PRESSURES:
        return "pressure"
    suffix = suffix_of(name)
    if suffix in ("mm", "m", "km"):
        return "length"
    return {
        "l": "volume",
        "litres_per_pulse": "volume",
        "l_s": "rate",
        "percent": "share",
    }.get(suffix, "")


def _target(name: str) -> str:
    return {"volume": "l", "rate": "l/s"}.get(quantity_of(name), suffix_of(name))


def _written(name: str) -> dict[str, str]:
    quantity = quantity_of(name)
    if quantity in ("pressure", "volume", "rate"):
        return spellings(quantity)
    units = {"length": _LENGTHS, "share": _SHARES}.get(quantity, {})
    return {word: unit for unit, spelt in units.items() for word in spelt.split()}


def _unique(texts: pd.Series[Any]) -> tuple[list[str], np.ndarray[Any, np.dtype[np.int64]]]:
    codes, unique = pd.factorize(texts.astype(str).str.strip())
    return [str(text) for text in unique], np.asarray(codes, dtype=np.int64)


def _parts(text: str, known: dict[str, str], *, bore: bool) -> tuple[str, str, str, str]:
    """Number, unit, second number and how they make the value; how is '' for no amount."""
    said = _PER_PULSE.sub("", _without_halves(text.casefold()))
    nothing = ("", "", "", "")
    if bore:
        if found := _NOMINAL.fullmatch(said):
            unit = known.get((found[2] or "mm").strip().rstrip("."), "")
            return (found[1], unit, "", "plain") if unit else nothing
        said = _ROUND.sub("", said)
        if found := _RATIO.fullmatch(said):
            return found[1], found[2] or "", found[3], "sdr"
        if (found := _WALLED.fullmatch(said)) and "/" not in said:
            return found[1], found[2] or found[4] or "", found[3], "wall"
    if "ft" in known.values() and (found := _FEET_INCHES.fullmatch(said)):
        return found[1], "in", found[2], "feet"
    if found := _WHOLE_AND_PART.fullmatch(said):
        # Nobody divides a millimetre by eight.
        said_unit = _unit(found[4] or ("in" if bore else ""), known)
        over, under = int(found[2]), int(found[3])
        if said_unit is None or under not in _INCH_PARTS or over >= under:
            return nothing
        return str(float(found[1] or 0) + over / under), said_unit, "", "plain"
    found = _PLAIN.fullmatch(said)
    if not found:
        return nothing
    behind = _unit(found[2], known)
    return nothing if behind is None else (found[1], behind, "", "plain")


def _unit(said: str, known: dict[str, str]) -> str | None:
    """The unit, '' where none is said, None where it is none."""
    said = said.strip().rstrip(".")
    return known.get(said) if said else ""


def _without_halves(text: str) -> str:
    """'1½' as '1 1/2': the signs for fractions spelled out."""
    spelled = "".join(
        f" {unicodedata.normalize('NFKC', c)}" if unicodedata.category(c) == "No" and c not in "²³"
        else c
        for c in text
    )  # fmt: skip
    return spelled.strip()


def _value(how: str, said: float, other: float) -> float:
    match how:
        case "plain":
            return said
        case "feet":
            return 12.0 * said + other
        case "wall":
            return said - 2.0 * other if said > 2.0 * other > 0.0 else np.nan
        case "sdr":
            return said * (1.0 - 2.0 / other) if other > 2.0 else np.nan
    return np.nan
