"""What makes the rates doubtful, to be told before the list: a record that cannot be as it is said,
breaks that count nowhere, a year of the plan far from the record."""

from __future__ import annotations

import math
from datetime import date

import numpy as np

from district.plan.history import History, on_day
from district.settings import Settings
from district.words import day, percent, plural

_LOST_SHARE = 0.05
"""So many breaks of mains without a pipe or date are told: fewer move no rate beyond its limits."""
_CHANCE = 0.001
"""A quiet beginning or end that chance leaves more rarely than this is told."""
_QUIET_YEARS = 1.5
"""Shorter ones say nothing: some records tell years alone."""
_AHEAD_YEARS = 5
"""A plan so long after its record is told to be. These are assumptions."""


def doubts(history: History, *, settings: Settings, year: int) -> tuple[str, ...]:
    """Sentences for the planner of `year`; none where nothing is doubtful."""
    said = [_lost(history), _late(history, year)]
    if settings.renew.record_dates and len(history.break_year):
        said += [_quiet_start(history), _quiet_end(history)]
    return tuple(s for s in said if s)


def _lost(history: History) -> str:
    lost, known = history.lost_count, len(history.break_pipe)
    share = lost / max(lost + known, 1)
    # Published rates are as they are, whatever is lost.
    if not history.known or share <= _LOST_SHARE:
        return ""
    return (
        f"{lost} of {plural(lost + known, 'break')} of mains on record are on no pipe of the map, "
        f"or have no date, {percent(share, decimals=0)}: by as much all rates, and what renewal "
        "saves, are told too low."
    )


def _late(history: History, year: int) -> str:
    ahead = year - math.ceil(history.last - 1e-3)
    if not history.known or ahead <= _AHEAD_YEARS:
        return ""
    return (
        f"The plan is of {year}, {plural(ahead, 'year')} after the record of breaks ends: all "
        "mains are taken to age until then, as if none were renewed."
    )


def _quiet_start(history: History) -> str:
    first = float(history.break_year.min())
    if not _odd(history, history.first, first):
        return ""
    return _quiet(f"begin on {day(on_day(history.first))}", "first", on_day(first))


def _quiet_end(history: History) -> str:
    last = float(history.break_year.max())
    if not _odd(history, last, history.last):
        return ""
    return _quiet(f"run until {day(on_day(history.last, last=True))}", "last", on_day(last))


def _quiet(told: str, which: str, on: date) -> str:
    return (
        f"The record is said to {told}, yet its {which} break is of {day(on)}: by chance fewer "
        "than 1 record of 1 000 is quiet for so long. If breaks were not written down all that "
        "time, correct record_dates under [renew]; until then rates are told too low."
    )


def _odd(history: History, first: float, last: float) -> bool:
    return last - first > _QUIET_YEARS and _chance(history, first, last) < _CHANCE


def _chance(history: History, first: float, last: float) -> float:
    """The chance that all breaks fall outside a time, by the length watched in it: evenly by
    length and year, which growth with age changes little over a record."""
    table = history.table
    start, end = (table[name].to_numpy(dtype=float) for name in ("from_year", "to_year"))
    length = table["length_m"].to_numpy(dtype=float)
    whole = float((np.maximum(end - start, 0.0) * length).sum())
    within = np.maximum(np.minimum(end, last) - np.maximum(start, first), 0.0)
    quiet = float((within * length).sum()) / whole if whole > 0 else 0.0
    return float((1.0 - min(quiet, 1.0)) ** len(history.break_year))
