"""One sentence an alarm: what, where, how much, since when."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from district.words import day, figure, missing, percent, spelled

KINDS: dict[str, str] = {
    "leak": "new leak",
    "growing_leak": "growing leak",
    "building_flow": "flow that never stops",
    "meter_fault": "meter at fault",
    "boundary": "valve or border between zones changed",
    "use": "use by people",
    "unknown": "rise of night flow, cause not clear",
    "wet_floor": "water on the floor",
    "leak_cable": "wet leak cable",
    "chamber_float": "water risen in a chamber",
    "constant_flow": "flow that never stops",
    "empty_flow": "flow while nobody is there",
    "dead": "meter that counts nothing",
    "stuck": "meter that stands still while it is read",
    "flapping": "sensor that goes on and off",
    "always_on": "sensor always in alarm",
    "silent": "no readings",
    "verified": "repair that worked",
    "partly": "repair that worked in part",
    "another_leak": "repair that left another leak",
    "not_seen": "repair that the night flow does not show",
    "too_early": "repair too fresh to judge",
}
"""Kind of an alarm -> words for people."""
FLOWS = ("constant_flow", "empty_flow")
"""Verdicts on a building's meter that tell of water running."""
_LEAST_SURE = 0.5
_LEAST_TOLD = 0.01
_STATES = {
    "repaired": "repaired",
    "explained": "explained by a recorded work",
    "ended": "ended by itself",
}


def sure(share: float) -> str:
    """A probability, never said to be certain.

    >>> sure(0.9998), sure(0.617), sure(0.004)
    ('> 99 %', '62 %', '< 1 %')
    """
    if share > 1 - _LEAST_TOLD:
        return "> 99 %"
    return "< 1 %" if share < _LEAST_TOLD else percent(share, decimals=0)


def event_line(event: Mapping[str, Any], place: str, currency: str) -> str:
    """An event (row of EVENTS) as one sentence."""
    kind = KINDS.get(str(event["kind"]), spelled(event["kind"]))
    share = event["kind_share"]
    if not missing(share):
        said = sure(float(share))
        kind += f" (probability {said})" if float(share) >= _LEAST_SURE else f" (only {said} sure)"
    said = f"{kind[:1].upper()}{kind[1:]} in {place}"
    if event["place_kind"] == "sensor":
        said = f"{kind[:1].upper()}{kind[1:]}: {place}"
    size = _figure(event, "size_l_s")
    if size:
        said += f": {size}"
    said += f" since {day(event['start'])}"
    growth = _figure(event, "growth_l_s_d")
    if growth and float(event["growth_l_s_d"]) > 0:
        said += f", growing by {growth}"
    parts = [_figure(event, "volume_m3"), _figure(event, "cost_currency", currency)]
    to_date = ", ".join(part for part in parts if part)
    if to_date:
        said += f"; to date {to_date}"
    if event["state"] != "open":
        said += f"; {_STATES.get(str(event['state']), str(event['state']))}"
        said += "" if missing(event["end"]) else f", last night {day(event['end'])}"
    return f"{said}."


def building_line(check: Mapping[str, Any], place: str, currency: str) -> str:
    """What a building's meter shows (row of BUILDING_CHECKS) as one sentence."""
    verdict = str(check["verdict"])
    if verdict in FLOWS:
        what = KINDS[verdict]
        said = f"{what[:1].upper()}{what[1:]} in {place}"
        size = _figure(check, "constant_l_s")
        said += f": {size}" if size else ""
        said += "" if missing(check["since"]) else f" since {day(check['since'])}"
        cost = _figure(check, "cost_currency_year", currency)
        return f"{said}; it costs {cost}." if cost else f"{said}."
    since = "" if missing(check["since"]) else f" since {day(check['since'])}"
    does = "counts nothing" if verdict == "dead" else "stands still while it is read"
    return f"The meter of {place} {does}{since}: check the meter before it is taken for no use."


def sensor_line(check: Mapping[str, Any], place: str) -> str:
    """How an alarm sensor behaves (row of SENSOR_CHECKS) as one sentence."""
    does = "goes on and off" if check["verdict"] == "flapping" else "is always in alarm"
    return f"{place[:1].upper()}{place[1:]} {does}: what it tells cannot be believed. Check it."


def repair_line(check: Mapping[str, Any], place: str) -> str:
    """What a repair did (row of REPAIR_CHECKS) as one sentence."""
    said = f"Repair of {day(check['repaired'])} in {place}"
    drop, left = _figure(check, "drop_l_s"), _figure(check, "remaining_l_s")
    fell = f", night flow fell by {drop}" if drop else ""
    verdict = str(check["verdict"])
    if verdict == "verified":
        return f"{said} worked{fell}."
    if verdict == "partly":
        return f"{said} worked in part{fell}{f', {left} still runs' if left else ''}."
    if verdict == "another_leak":
        return f"{said} worked{fell}, but another leak remains{f': {left}' if left else ''}."
    if verdict == "not_seen":
        return f"{said} does not show in the night flow: check that the leak was the one found."
    return f"{said}: too early to tell whether it worked."


def _figure(row: Mapping[str, Any], name: str, currency: str = "") -> str:
    value = row.get(name)
    if missing(value):
        return ""
    low, high = row.get(f"{name}_low"), row.get(f"{name}_high")
    return figure(value, low, high, name, currency=currency)
