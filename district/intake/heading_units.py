"""Units as people write them beside headings: 'Flow (m3/h)', 'M12 [l/s]', a row of units."""

from __future__ import annotations

import re
from functools import cache

_SPELT: dict[str, dict[str, tuple[str, ...]]] = {
    "volume": {
        "m3": ("m3", "m^3", "cbm", "cum", "cubicmetres", "cubicmeters", "kl", "kilolitres"),
        "l": ("l", "litre", "litres", "liter", "liters", "ltr", "lt", "litro", "litros"),
        "Ml": ("megalitres", "megaliters"),
        "gal": ("gal", "gallon", "gallons"),
        "ft3": ("ft3", "ft^3", "cf", "cuft", "cubicfeet"),
    },
    "rate": {
        "l/s": ("l/s", "l/sec", "lps", "litre/s", "litres/s", "ls-1", "l*s-1"),
        "l/min": ("l/min", "lpm", "litres/min"),
        "l/h": ("l/h", "l/hr", "lph", "litres/h"),
        "m3/h": ("m3/h", "m3/hr", "m^3/h", "cbm/h", "cum/h", "m3h-1", "m3*h-1", "cmh", "kl/h"),
        "m3/d": ("m3/d", "m3/day", "m^3/d", "cbm/d", "kl/d"),
        "Ml/d": ("mld", "megalitres/d"),
        "gpm": ("gpm", "gal/min"),
    },
    "pressure": {
        "m": (
            "m", "mh2o", "mwc", "mws", "mca", "mce", "mwater", "mtr", "metre", "metres", "meter",
            "meters", "mhead",
        ),
        "bar": ("bar", "bars", "barg"),
        "mbar": ("mbar",),
        "kPa": ("kpa",),
        "psi": ("psi", "psig"),
        "ft": ("ft", "feet", "fth2o", "ftwc"),
    },
    "length": {"mm": ("mm",), "cm": ("cm",)},
    "count": {"pulses": ("pulses", "pulse", "impulses", "impulse", "imp", "counts", "count")},
}  # fmt: skip
"""Quantity -> our unit -> how it is written, small and without blanks (common practice, no
source). Metres and feet are of water, or of a level."""
PULSES = "pulses"
QUANTITY: dict[str, str] = {u: q for q, known in _SPELT.items() for u in known}
"""Unit -> volume, rate, pressure, length or count."""
_BY_SPELLING = {s: u for known in _SPELT.values() for u, spelt in known.items() for s in spelt}
_LARGE = {"ML": "Ml", "Ml": "Ml", "ML/d": "Ml/d", "Ml/d": "Ml/d", "ML/day": "Ml/d"}
"""Told from millilitres by their capital alone."""
_IN_BRACKETS = re.compile(r"^(.*?)[\s_,]*[(\[{]\s*([^()\[\]{}]+?)\s*[)\]}]$")
_LAST = re.compile(r"^(.+?)[\s,]+(?:in\s+)?(\S+/\S+)$")
_FORM = re.compile(r"^[dmyhsajtDMYHSAJT]{1,4}([./:\- T]+[dmyhsajtDMYHSAJT]{1,4})+$")
"""A date form such as dd/mm/yyyy hh:mm, in any of several languages."""
_NOTES = ("-", "--", "utc", "gmt", "local", "text", "datetime", "date", "time", "number", "float",
          "double", "string", "unit", "units", "einheit", "unité")  # fmt: skip


@cache
def unit_of(text: str) -> str:
    """The unit a text is and says nothing beside, as we write it; '' if it is none we know.

    >>> unit_of("[m³/hr]"), unit_of("L/s"), unit_of("ML"), unit_of("cellar")
    ('m3/h', 'l/s', 'Ml', '')
    """
    plain = text.strip().strip("()[]{}").replace("³", "3").replace("·", "*")
    plain = "".join(plain.split())
    return _LARGE.get(plain) or _BY_SPELLING.get(plain.lower(), "")


def spellings(quantity: str) -> dict[str, str]:
    """How units of a quantity are written -> our unit; also with a raised 3.

    >>> spellings("volume")["m³"], spellings("volume")["gallons"]
    ('m3', 'gal')
    """
    known = {s: unit for unit, spelt in _SPELT[quantity].items() for s in spelt}
    return known | {s.replace("3", "³"): unit for s, unit in known.items()}


@cache
def split_unit(heading: str) -> tuple[str, str]:
    """A heading without its unit, and the unit; the heading as it is where it names none.

    >>> split_unit("Flow (m3/h)"), split_unit("M12 [L/s]"), split_unit("Level (cellar)")
    (('Flow', 'm3/h'), ('M12', 'l/s'), ('Level (cellar)', ''))
    """
    text = heading.strip()
    for form in (_IN_BRACKETS, _LAST):
        found = form.match(text)
        unit = unit_of(found[2]) if found else ""
        if found and unit:
            return found[1].strip() or text, unit
    return text, ""


def is_units_row(texts: list[str]) -> bool:
    """Whether a row's filled cells are units, date forms and the like, and one is more than '-'."""
    telling = [bool(unit_of(t) or _FORM.match(_bare(t))) for t in texts]
    return any(telling) and all(
        told or _bare(t).lower() in _NOTES for t, told in zip(texts, telling, strict=True)
    )


def _bare(text: str) -> str:
    return text.strip().strip("()[]{}").strip()
