"""Figures, dates and lists as people read them: one way on pages, in prints and in findings."""

from __future__ import annotations

import math
import os
import re
from collections.abc import Iterable
from datetime import UTC, date
from difflib import get_close_matches
from pathlib import Path
from typing import Any
from zoneinfo import ZoneInfo

import pandas as pd

from district.units import label_of, suffix_of

EMPTY = "-"
SHOWN = 3
"""Names given in one sentence before the rest is only counted."""
CAUTION = (
    "Figures are estimates with 95 % limits, not certainties. Shutting valves, digging and "
    "entering chambers need licensed people and the local rules; look to fire supply and "
    "critical users first."
)
PRESSURE_CAUTION = (
    "Lower pressure can leave top floors and fire hydrants short of water: keep to the local rules "
    "for least pressure and fire supply, and ask who answers for them before anything is turned."
)
FITTING_CAUTION = (
    "Fitting a logger or meter means work in chambers, at hydrants and beside traffic, and for a "
    "meter a main out of service: leave it to trained and licensed people and the local rules for "
    "confined spaces, traffic and hygiene, and look to fire supply and critical users first."
)
STEP_TEST_CAUTION = (
    "A step test shuts valves and takes water from people: for a licensed crew alone, once fire "
    "supply is secured and critical users, dialysis at home among them, are told and supplied. "
    "Turn valves slowly, open them step by step, and flush: water may come discoloured."
)
_SPACE = "\u00a0"
_CAPITALS = {"pvc": "PVC", "grp": "GRP"}


def missing(value: Any) -> bool:
    """Whether a cell is empty: None, NaN, NaT, or text of nothing but spaces."""
    if isinstance(value, str):
        return not value.strip()
    return value is None or value is pd.NaT or bool(pd.isna(value))


def true(value: Any) -> bool:
    """Whether a flag is set; empty counts as not."""
    return not missing(value) and bool(value)


def id_text(value: Any) -> str:
    """An id as its owner knows it: ids that are numbers arrive as 12.0 where one is empty.

    >>> id_text(12.0), id_text(" P12 ")
    ('12', 'P12')
    """
    if isinstance(value, float) and value.is_integer():
        return str(int(value))
    return str(value).strip()


def file_name(path: Path, folder: Path) -> str:
    """A file as its owner knows it: by its place in the district folder, where it lies there.

    Bytes of a name that are no text, as of an old disk, are shown by their number, so that no two
    names become one: 'm\\xfcller.csv'.
    """
    name = path.relative_to(folder).as_posix() if path.is_relative_to(folder) else str(path)
    return os.fsencode(name).decode("utf-8", "backslashreplace")


def figure(
    value: float | None,
    low: float | None = None,
    high: float | None = None,
    name: str = "",
    *,
    currency: str = "",
) -> str:
    """A figure with its 95 % limits and unit, no more digits than the limits support.

    `name` is the column the figure comes from: its suffix gives the unit. A share is shown in
    per cent. '-' where there is no value. See `rounded` for the digits.

    >>> figure(0.8412, 0.6088, 1.0744, "leakage_l_s")
    '0.84\\xa0L/s (0.61 to 1.07)'
    >>> figure(0.1234, 0.08, 0.17, "probability_share")
    '12\\xa0% (8 to 17)'
    >>> figure(123456.7, 119000, 128000, "volume_m3")
    '123\\xa0000\\xa0m³ (119\\xa0000 to 128\\xa0000)'
    >>> figure(1240.4, name="cost_currency", currency="EUR"), figure(None, name="leakage_l_s")
    ('EUR\\xa01\\xa0240', '-')
    """
    middle, lower, upper = rounded(value, low, high, name)
    if middle == EMPTY:
        return EMPTY
    label = unit(name)
    shown = f"{middle}{_SPACE}{label}" if label else middle
    if currency and suffix_of(name) in ("currency", "currency_year"):
        a_year = f" {label}" if label else ""
        shown = f"{currency}{_SPACE}{middle}{a_year}"
    return f"{shown} ({lower} to {upper})" if lower else shown


def rounded(
    value: float | None, low: float | None = None, high: float | None = None, name: str = ""
) -> tuple[str, str, str]:
    """Value and limits as digits without unit, all to one place; limits '' where there are none.

    Half the distance between the limits keeps two significant digits where it begins with 1.00 to
    3.54, else one, and the figure stops at the same place (rounding rule of the Review of Particle
    Physics, from memory; JCGM 100:2008, 7.2.6 allows two at most). A fourth digit of the figure
    itself is shown only where the limits would fall together without it: no flow meter in a
    district earns more. Without limits three significant digits; counts, years and millimetres
    whole.

    >>> rounded(0.8412, 0.6088, 1.0744, "leakage_l_s")
    ('0.84', '0.61', '1.07')
    >>> rounded(12.0, name="connections_count"), rounded(1974.0, name="installed_year")
    (('12', '', ''), ('1974', '', ''))
    """
    if missing(value):
        return EMPTY, "", ""
    scale = 100.0 if suffix_of(name) == "share" else 1.0
    middle = float(value or 0.0) * scale
    if suffix_of(name) == "year" and missing(low):
        return f"{middle:.0f}", "", ""
    bounds = None if low is None or high is None or missing(low) or missing(high) else (low, high)
    half = (bounds[1] - bounds[0]) * scale / 2 if bounds else 0.0
    if half < 1e-9 * abs(middle):
        half = 0.0  # What is left of a sum that cancels is no limit.
    if suffix_of(name) == "count" or (suffix_of(name) == "mm" and not bounds):
        places = 0
    elif half > 0:
        places = _places(half, middle)
    else:
        places = 2 - math.floor(math.log10(abs(middle))) if middle else 0
        # A share without limits of its own is not known to more than a tenth of a per cent.
        places = min(places, 1) if scale != 1.0 else min(places, 3)
    if not bounds or half <= 0:
        return _digits(middle, places), "", ""
    return (
        _digits(middle, places),
        _digits(bounds[0] * scale, places),
        _digits(bounds[1] * scale, places),
    )


def brief(value: float) -> str:
    """A number within a sentence, to two significant digits: meters support no more there.

    >>> brief(0.4236), brief(0.3), brief(1234.5), brief(0.0)
    ('0.42', '0.3', '1\\xa0200', '0')
    """
    settled = float(f"{value:.2g}")
    return _digits(settled, 0) if abs(settled) >= 10 else f"{settled:g}"


def whole(count: float) -> str:
    """A count, its thousands set apart.

    >>> whole(984), whole(12034.0)
    ('984', '12\\xa0034')
    """
    return _digits(count, 0)


def percent(share: float, *, decimals: int | None = None) -> str:
    """A share in per cent: as it was set, or rounded to `decimals`.

    >>> percent(0.0025), percent(0.4712, decimals=0)
    ('0.25 %', '47 %')
    """
    shown = f"{100 * share:g}" if decimals is None else _digits(100 * share, decimals)
    return f"{shown} %"


def unit(name: str) -> str:
    """Unit label of a column as figures show it; shares are shown in per cent."""
    return "%" if suffix_of(name) == "share" else label_of(name)


def day(value: Any) -> str:
    """A local date as YYYY-MM-DD, '-' where there is none.

    >>> day(date(2031, 3, 4)), day(None)
    ('2031-03-04', '-')
    """
    return EMPTY if missing(value) else pd.Timestamp(value).strftime("%Y-%m-%d")


def moment(value: Any, *, timezone: str) -> str:
    """An instant (UTC) on the district's clock, to the minute.

    >>> moment(pd.Timestamp("2031-07-04T22:30Z"), timezone="Europe/Vienna")
    '2031-07-05 00:30'
    """
    if missing(value):
        return EMPTY
    instant = pd.Timestamp(value)
    instant = instant.tz_localize(UTC) if instant.tzinfo is None else instant
    return str(instant.tz_convert(ZoneInfo(timezone)).strftime("%Y-%m-%d %H:%M"))


def period(first: date | None, last: date | None) -> str:
    """A span of days in words."""
    if first is None or last is None:
        return "no period"
    return day(first) if first == last else f"{day(first)} to {day(last)}"


def spelled(code: Any) -> str:
    """A code of the data as words; '-' if empty.

    >>> spelled("asbestos_cement"), spelled("pvc"), spelled(None)
    ('asbestos cement', 'PVC', '-')
    """
    if missing(code):
        return EMPTY
    return _CAPITALS.get(str(code), str(code).replace("_", " "))


def plural(count: int, one: str, many: str = "") -> str:
    """`count` and its noun.

    >>> plural(1, "stretch", "stretches"), plural(3, "zone"), plural(1031, "night")
    ('1 stretch', '3 zones', '1\\xa0031 nights')
    """
    return f"{whole(count)} {one if count == 1 else many or one + 's'}"


def natural(names: Iterable[Any]) -> list[str]:
    """The names once each, as people sort them: P2 before P10.

    >>> natural(["P10", "P2", "P2"])
    ['P2', 'P10']
    """
    return sorted({str(n) for n in names}, key=natural_key)


def natural_key(name: str) -> tuple[list[tuple[int, str]], str]:
    """What to sort a name by so that the numbers in it count as numbers."""
    parts = re.split(r"(\d+)", name)
    return [(int(p), "") if i % 2 else (-1, p) for i, p in enumerate(parts)], name


def listed(names: Iterable[Any], *, shown: int = SHOWN, beyond: int = 0) -> str:
    """The first names, and how many more; `beyond` counts those without a name here.

    >>> listed(["P1", "P2", "P3", "P4", "P5"])
    'P1, P2, P3 and 2 more'
    >>> listed(["P2", "P1"]), listed(["P2", "P1"], beyond=7)
    ('P1 and P2', 'P1, P2 and 7 more')
    """
    ordered = natural(names)
    if beyond or len(ordered) > shown + 1:
        left = max(len(ordered) - shown, 0) + beyond
        return f"{', '.join(ordered[:shown])} and {whole(left)} more"
    head, last = ordered[:-1], ordered[-1:]
    return " and ".join([part for part in (", ".join(head), *last) if part])


def places(noun: str, names: Iterable[Any], *, shown: int = SHOWN, beyond: int = 0) -> str:
    """The place of a finding about one thing or several, `beyond` of them without a name here.

    >>> places("pipe", ["P7"]), places("pipe", ["P7", "P8"])
    ('pipe P7', 'pipes P7 and P8')
    """
    ordered = natural(names)
    one = len(ordered) == 1 and not beyond
    return f"{noun if one else noun + 's'} {listed(ordered, shown=shown, beyond=beyond)}"


def closest(name: str, known: Iterable[Any]) -> str:
    """A hint at what `name` may have been meant for, '' where nothing is like it.

    >>> closest("diametr", ["material", "diameter"]), closest("x", ["diameter"])
    (' (the closest is diameter)', '')
    """
    near = get_close_matches(name, [str(k) for k in known], n=1, cutoff=0.6)
    return f" (the closest is {near[0]})" if near else ""


def _places(half: float, middle: float) -> int:
    exponent = math.floor(math.log10(half) + 1e-9)
    one = -exponent
    two = one + (1 if half / 10.0**exponent < 3.55 else 0)
    three_of_middle = 2 - math.floor(math.log10(abs(middle)) + 1e-9) if middle else two
    return min(two, max(one, three_of_middle))


def _digits(number: float, places: int) -> str:
    settled = round(number, places) + 0.0  # adding zero drops the sign of -0.0
    return f"{settled:,.{max(places, 0)}f}".replace(",", _SPACE)
