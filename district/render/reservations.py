"""What a reader has to know before trusting the zone figures and those of the year."""

from __future__ import annotations

import pandas as pd

from district.render.popups import zone_titles
from district.results import Balance
from district.words import day, listed, places, plural

LATE_D = 14
"""Days without a figure at the end of the record before the zone's figures count as old."""
LEAST_D = 300
"""Days of record from which a year can be told: fewer leave out a season."""


def every(balance: Balance) -> list[str]:
    """All that is said here, a sentence each."""
    said = (*of_zones(balance), of_the_year(balance), of_the_audit(balance))
    return [sentence for sentence in said if sentence]


def of_zones(balance: Balance) -> list[str]:
    """What limits zone figures, a sentence each; none where nothing does."""
    return [*_impossible(balance), *_below_zero(balance), *_old(balance)]


def of_the_year(balance: Balance) -> str:
    """What limits the annual balance where the record is much shorter than a year, else ''."""
    first, last = balance.basis.first, balance.basis.last
    if balance.annual.empty or first is None or last is None:
        return ""
    span = (last - first).days + 1
    if span >= LEAST_D:
        return ""
    return (
        f"The year is scaled up from {plural(span, 'day')} of record: seasons outside it are not "
        "known, and the limits do not allow for them."
    )


def of_the_audit(balance: Balance) -> str:
    """What the audit does not count: that a meter is off. '' where none is."""
    checks = balance.meter_checks
    off = list(checks.loc[checks["verdict"] == "off", "meter_id"])
    if not off:
        return ""
    it, its = ("it is", "its kind") if len(off) == 1 else ("they are", "their kind")
    return (
        f"Of {places('meter', off)} only the error of {its} is counted, not that {it} off: until "
        f"{it} put right, the limits of the zones on both sides do not hold."
    )


def _impossible(balance: Balance) -> list[str]:
    zones = balance.zones
    names = zone_titles(zones)
    below = zones.loc[zones["leakage_l_s_high"] < 0, "cell_id"]
    if below.empty:
        return []
    return [
        f"The night leakage of {listed(names[str(c)] for c in below)} is below zero by more than "
        "its limits, which cannot be: a meter, the level or surface of a tank, or a night user is "
        "not as told. Use neither its figures nor the sums that hold them before that is found."
    ]


def _below_zero(balance: Balance) -> list[str]:
    zones = balance.zones
    names = zone_titles(zones)
    impossible = zones["leakage_l_s_high"] < 0
    below = zones.loc[(zones["minimum_night_flow_l_s"] < 0) & ~impossible, "cell_id"]
    if below.empty:
        return []
    return [
        f"The lowest night flow of {listed(names[str(c)] for c in below)} is below zero: a small "
        "difference of larger flows, in the hour in which it was read lowest. Judge by the night "
        "leakage and its limits."
    ]


def _old(balance: Balance) -> list[str]:
    last = balance.basis.last
    known = balance.nights.dropna(subset=["leakage_l_s"])
    if last is None or known.empty:
        return []
    names = zone_titles(balance.zones)
    ends = pd.to_datetime(known.groupby("cell_id")["night"].max())
    old = ends[ends < pd.Timestamp(last) - pd.Timedelta(days=LATE_D)]
    return [
        f"The figures of {listed(names.get(str(c), str(c)) for c in cells.index)} rest on nights "
        f"up to {day(end)}: none after that has a figure. What happened since is not in them."
        for end, cells in old.groupby(old)
    ]
