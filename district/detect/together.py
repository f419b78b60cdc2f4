"""Alarms and flow together: what both tell counts more than what one of them tells alone.

Order to act in, the first first (`tiers`):

0. Flow and an alarm at one place and time. Two things that fail in different ways agree.
1. A fresh alarm of a wet floor or leak cable alone. It ranks before a lone flow for its first two
   days: looking takes minutes, and water on a floor does harm by the hour, to people and wiring
   too. When nobody found anything, or two days have passed, it falls back to 3.
2. A change of flow alone: measured, dated and sized, but its place is not known.
3. An older alarm of a wet floor or leak cable alone: cleaning, rain through a door, a spilt bucket.
4. A chamber float alone: ground water and rain lift it as well as a leak.

What a sensor chatters is nothing to act on; the sensor itself is (SENSOR_CHECKS). Nor, once it is
no longer fresh, is an alarm beside a flow to act on: the flow names it, and it is the same water.
The order, and every span below, is common practice, no source.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import time
from typing import Any

import numpy as np
import pandas as pd

from district.detect.alarms import FRESH, Spell, night_of
from district.detect.building import meter_buildings, sensor_buildings
from district.network import Network
from district.words import day

JOIN_DAYS = 30
"""An alarm and a building's flow this close in time speak for each other."""
BEFORE_D, AFTER_D = 2, 7
"""An alarm so long before or after the limits of a leak's start in its zone speaks for it: water
needs time to come through the ground. A growing leak may wet a floor as long as it runs."""
_ZONE_KINDS = ("leak", "growing_leak", "unknown")
_SEEN = {
    "wet_floor": "water on the floor",
    "leak_cable": "water on the leak cable",
    "chamber_float": "the float of a chamber rose",
}
_SENSORS = {
    "wet_floor": "wet-floor sensor",
    "leak_cable": "leak cable",
    "chamber_float": "chamber float",
}
_SHOWS_BY_ITSELF = ("wet_floor", "leak_cable")


def with_alarms(
    rows: Sequence[Mapping[str, Any]],
    spells: Sequence[Spell],
    *,
    network: Network,
    night_end: time,
    last_known: pd.Timestamp | None,
) -> list[dict[str, Any]]:
    """Rows of EVENTS of flows with the alarms that speak for them, and a row for each alarm.

    `rows` are flows of zones and buildings as `find_events` makes them; nothing is written to.
    Each alarm is laid beside the flow of its building, else that of its zone, nearest in time.
    Where both tell, `support` is 'both' on both, and the reason of each names the other. Chatter
    lends no support. An alarm tells nothing of the flow: sizes stay empty.
    """
    told: list[dict[str, Any]] = [{"support": "flow", "weak": False, **row} for row in rows]
    homes, meters = sensor_buildings(network), meter_buildings(network)
    served = set(meters.values())
    cells = network.sensors["cell_id"] if "cell_id" in network.sensors else pd.Series(dtype=object)
    by_place: dict[str, list[dict[str, Any]]] = {}
    for row in told:
        own = meters.get(row["place_id"], "") if row["place_kind"] == "building" else ""
        by_place.setdefault(own or str(row["place_id"]), []).append(row)
    alarms = []
    for spell in spells:
        building, cell = homes.get(spell.sensor_id, ""), cells.get(spell.sensor_id, "") or ""
        near = [row for place in dict.fromkeys((building, cell)) for row in by_place.get(place, ())]
        at = partner(
            spell, near, building=building, cell=str(cell), meters=meters, night_end=night_end
        )
        other = None if at is None else near[at]
        if other is not None and not spell.flapping:
            _supported(other, spell, building)
        alarms.append(_row(spell, other, building, str(cell), served, last_known))
    return [*told, *alarms]


def partner(
    spell: Spell,
    flows: Sequence[Mapping[str, Any]],
    *,
    building: str,
    cell: str,
    meters: Mapping[str, str],
    night_end: time,
) -> int | None:
    """Position of the flow that an alarm speaks for: of its building first, else of its zone.

    Of several the nearest in time. A building's flow counts from 30 days before its start to 30
    days after its end, a zone's leak around the limits of its start. An alarm is taken to the
    first night that what it tells of can show in.
    """
    night = night_of(spell.start, night_end=night_end)
    nearest: list[tuple[bool, pd.Timedelta, int]] = []
    for n, flow in enumerate(flows):
        own = bool(building) and meters.get(flow["place_id"]) == building
        if flow["place_kind"] == "building" and own and flow["kind"] == "building_flow":
            margin = pd.Timedelta(days=JOIN_DAYS)
            first, last = flow["start"] - margin, flow["end"] + margin
        elif flow["place_kind"] == "zone" and cell and flow["place_id"] == cell:
            if flow["kind"] not in _ZONE_KINDS or flow["state"] == "explained":
                continue
            first = flow["start_low"] - pd.Timedelta(days=BEFORE_D)
            last = flow["end"] if flow["kind"] == "growing_leak" else flow["start_high"]
            last += pd.Timedelta(days=AFTER_D)
        else:
            continue
        # Without an end it runs still, and may be spoken for however late.
        if first <= night and (pd.isna(last) or night <= last):
            nearest.append((flow["place_kind"] == "zone", abs(flow["start"] - night), n))
    return min(nearest)[2] if nearest else None


def spoken_for(rows: Sequence[Mapping[str, Any]]) -> set[str]:
    """Sensors in alarm still whose alarm a change of flow speaks for, of rows of EVENTS."""
    return {
        str(row["place_id"])
        for row in rows
        if row["place_kind"] == "sensor" and row["support"] == "both" and row["state"] == "open"
    }


def tiers(events: pd.DataFrame, *, last_known: pd.Timestamp) -> pd.Series[Any]:
    """Which of the five steps of the order above each row of EVENTS stands on, 0 the first.

    `last_known` is the local date of the latest data. Of what need not be acted on it says only
    how it would rank.
    """
    alone = (events["place_kind"] == "sensor") & (events["support"] != "both")
    shows = events["kind"].isin(_SHOWS_BY_ITSELF)
    fresh = (events["state"] == "open") & (events["start"] >= last_known - FRESH)
    steps = np.select(
        [events["support"] == "both", alone & shows & fresh, ~alone, alone & shows],
        [0, 1, 2, 3],
        default=4,
    )
    return pd.Series(steps, index=events.index, name="tier")


def _supported(flow: dict[str, Any], spell: Spell, building: str) -> None:
    """Name the alarm in the flow's reason; a second alarm of the same sensor adds no word."""
    flow["support"] = "both"
    named = f"{_SENSORS[spell.kind]} {spell.sensor_id}"
    if named in flow["reason"]:
        return
    where = f" of building {building}" if building else ""
    flow["reason"] += f"; {named}{where} gave alarm on {_moment(spell.start)}"


def _row(
    spell: Spell,
    other: Mapping[str, Any] | None,
    building: str,
    cell: str,
    served: set[str],
    last_known: pd.Timestamp | None,
) -> dict[str, Any]:
    lone = other is None or spell.flapping
    fresh = spell.open and last_known is not None and spell.first() >= last_known - FRESH
    # The flow tells of the same water: once the alarm is no longer fresh nobody is sent twice.
    known = other is not None and bool(other.get("act"))
    run_d = (spell.end - spell.start) / pd.Timedelta(days=1)
    return {
        "place_kind": "sensor",
        "place_id": spell.sensor_id,
        "cell_id": cell,
        "kind": spell.kind,
        "reason": _reason(spell, other, building, served, fresh=fresh),
        "state": "open" if spell.open else "ended",
        "start": spell.first(),
        "start_low": spell.first(),
        "start_high": spell.first(),
        "since_first": spell.first(),
        "since_last": spell.first(),
        "detected": spell.first(),
        "end": pd.NaT if spell.open else spell.last(),
        "run_d": run_d,
        "run_d_low": run_d,
        "run_d_high": run_d,
        "growth_l_s_d": np.nan,
        "support": "alarm" if lone else "both",
        "weak": spell.flapping,
        "act": spell.open and not spell.flapping and (fresh or not known),
    }


def _reason(
    spell: Spell,
    other: Mapping[str, Any] | None,
    building: str,
    served: set[str],
    *,
    fresh: bool,
) -> str:
    said = f"{_SEEN[spell.kind]}{f' in building {building}' if building else ''}"
    if spell.flapping:
        span = f"{day(spell.first())} to {day(spell.last())}"
        return (
            f"{said} {spell.onsets_count} times from {span}: the sensor chatters, and all of it "
            "counts as one weak alarm"
        )
    said += f", first on {_moment(spell.start)}"
    if other is not None:
        whose = (
            f"the building's meter {other['place_id']}"
            if other["place_kind"] == "building"
            else f"zone {other['place_id']}"
        )
        return f"{said}; the night flow of {whose} rose on {day(other['start'])}"
    if building in served:
        said += "; no lasting rise at a meter of the building within 30 days"
    elif building:
        said += "; no meter of the building is known, and the zone's flow shows nothing then"
    else:
        said += "; the zone's flow shows nothing then"
    if spell.kind == "chamber_float":
        return f"{said}; ground water and rain lift a float too, so it is weak alone"
    return f"{said}; fresh: have somebody look today" if fresh else said


def _moment(start: pd.Timestamp) -> str:
    return f"{day(start)} at {start:%H:%M}"
