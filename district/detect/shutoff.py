"""When a valve that shuts a building by itself should trip: its own history replayed."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from typing import Any

import numpy as np
import pandas as pd

from district.detect.building import meter_buildings
from district.detect.shutoff_advice import advice, advised, hours_said, why_none
from district.detect.shutoff_cautions import cautions, held_back, served_by
from district.detect.shutoff_history import history_of, outside
from district.detect.shutoff_leaks import ASSUMED_L_S, UNNOTICED_H, past_leaks, spans_apart
from district.detect.shutoff_places import Place, automatic_valves, places_of, work_spans
from district.detect.shutoff_replay import replayed, settings_table, unbettered
from district.network import Network
from district.results import Basis, ShutOff
from district.schema.columns import empty
from district.schema.event_tables import SHUTOFF_CURVE, SHUTOFF_SETTINGS
from district.schema.typed import typed
from district.settings import Settings
from district.words import brief, listed

FEWEST_DAYS = 60.0
"""Days without a leak that must have been replayed. Common practice, no source."""


def shutoff_devices(
    quality: pd.DataFrame,
    *,
    network: Network,
    events: pd.DataFrame,
    building_checks: pd.DataFrame,
    settings: Settings,
) -> tuple[str, ...]:
    """Meters whose intervals `shutoff_settings` needs, in order of id.

    Those of buildings and customers, read every hour at least, that have a valve which shuts by
    itself, or a leak on record; all of them where the settings ask for it.
    """
    places = places_of(quality, network, events, building_checks, settings)
    return tuple(p.device_id for p in places if p.fine())


def shutoff_settings(
    intervals: Iterable[pd.DataFrame],
    *,
    quality: pd.DataFrame,
    network: Network,
    events: pd.DataFrame,
    building_checks: pd.DataFrame,
    works: pd.DataFrame,
    settings: Settings,
) -> ShutOff:
    """Flow and time at which each building's valve should trip, and the trade-off behind it.

    Parameters: `intervals` frames of table INTERVALS, each with all rows of one or more of the
    meters that `shutoff_devices` names; `quality` table DEVICE_QUALITY, `events` table EVENTS,
    `building_checks` table BUILDING_CHECKS, `works` the input table (UTC). One frame at a time is
    held. A meter without a frame is told of as not read. Rows in any order.

    Leaks and recorded works are left out where false trips are counted. See `shutoff_replay` for
    what is counted, `shutoff_advice` for what is advised.
    """
    places = {
        p.device_id: p for p in places_of(quality, network, events, building_checks, settings)
    }
    rows: dict[str, dict[str, Any]] = {}
    curves: list[pd.DataFrame] = []
    for device_id, own in _by_device(intervals):
        place = places.get(device_id)
        if place is None:
            continue
        row, curve = _one(place, own, network, events, building_checks, works, settings)
        rows[device_id] = row
        curves.append(curve)
    for device_id in places.keys() - rows.keys():
        rows[device_id] = _row(places[device_id], _unread(places[device_id]))
    found = typed(pd.DataFrame([rows[name] for name in sorted(rows)]), SHUTOFF_SETTINGS)
    some = [curve for curve in curves if len(curve)]
    curve = pd.concat(some, ignore_index=True) if some else empty(SHUTOFF_CURVE)
    curve = curve.sort_values(["device_id", "false_trips_per_year"], kind="stable")
    return ShutOff(found, curve.reset_index(drop=True), _basis(found, network))


def _by_device(intervals: Iterable[pd.DataFrame]) -> Iterator[tuple[str, pd.DataFrame]]:
    for frame in intervals:
        for device_id, own in frame.groupby("device_id", sort=True, observed=True):
            yield str(device_id), own


def _one(
    place: Place,
    intervals: pd.DataFrame,
    network: Network,
    events: pd.DataFrame,
    checks: pd.DataFrame,
    works: pd.DataFrame,
    settings: Settings,
) -> tuple[dict[str, Any], pd.DataFrame]:
    """Row of SHUTOFF_SETTINGS and rows of SHUTOFF_CURVE of one meter."""
    none = empty(SHUTOFF_CURVE)
    clock = settings.zone_info()
    history = history_of(intervals)
    if not len(history.start_us):
        return _row(place, _unread(place)), none
    leaks = past_leaks(
        place.device_id,
        history,
        events=events,
        checks=checks,
        never_zero_h=settings.events.never_zero_h,
        clock=clock,
    )
    behind = served_by(network, place.device_id, place.building_id)
    names = {place.device_id, place.building_id, *map(str, behind.index)} - {""}
    free = outside(history, [*spans_apart(leaks), *work_spans(works, names, clock)])
    first, last = (
        pd.Timestamp(int(at), unit="us", tz="UTC").tz_convert(clock).tz_localize(None).normalize()
        for at in (history.start_us[0], history.end_us[-1] - 1)
    )
    days = history.read_h(free) / 24.0
    told: dict[str, Any] = {"first": first, "last": last, "days_count": float(np.floor(days))}
    told["leaks_count"] = float(len(leaks))
    if leaks:
        summed = np.array([leak.volume_m3 for leak in leaks]).sum(axis=0)
        told |= dict(zip(_named("leaked_m3"), map(float, summed), strict=True))
    refused = held_back(behind)
    if refused:
        return _row(place, refused, **told), none
    if days < FEWEST_DAYS:
        reason = (
            f"None advised: {brief(days)} days without a leak or a recorded work were read, and "
            f"{FEWEST_DAYS:.0f} are needed to count false trips"
            + (". Find what runs there first" if leaks else "")
        )
        return _row(place, reason, **told), none
    if not history.flow_l_s[free].any() and not leaks:
        return _row(place, why_none(none, 0.0, false_trips_per_year=0.0), **told), none
    accepted = settings.shut_off.false_trips_per_year
    # A leak too small for any valve here must not keep one from being set against bursts.
    for against in dict.fromkeys((leaks, ())):
        replay = replayed(history, against, free=free, resolution_m3=place.resolution_m3)
        curve = unbettered(settings_table(replay))
        at = advised(curve, leaked_m3=replay.leaked_m3[0], false_trips_per_year=accepted)
        if at is not None:
            break
    told["leaks_count"] = float(len(against))
    told |= dict(zip(_named("leaked_m3"), replay.leaked_m3, strict=True))
    curve = curve.assign(device_id=place.device_id, advised=curve.index == at)
    curve = curve[list(SHUTOFF_CURVE.names())]
    if at is None:
        reason = why_none(curve, replay.leaked_m3[0], false_trips_per_year=accepted)
        return _row(place, reason, **told), curve
    chosen = curve.loc[at]
    shared = set(SHUTOFF_CURVE.names()) & set(SHUTOFF_SETTINGS.names()) - {"device_id"}
    told |= {name: float(chosen[name]) for name in shared}
    words = advice(
        chosen,
        against,
        replay.leaked_m3,
        step_h=history.step_h(),
        too_small_count=len(leaks) - len(against),
    )
    return _row(place, words, **told), curve


def _row(place: Place, said: str, **told: Any) -> dict[str, Any]:
    return {
        "device_id": place.device_id,
        "building_id": place.building_id,
        "valve_id": place.valve_id,
        **told,
        "advice": said,
        "cautions": cautions(place.valve_id, place.fail_position, meters_count=place.meters_count),
    }


def _unread(place: Place) -> str:
    if not place.fine():
        return (
            f"None advised: it is read every {hours_said(place.step_h)}, and how long flow lasts "
            "shows from hourly readings on"
        )
    return "None advised: no sound interval of an hour at most was read"


def _named(name: str) -> tuple[str, str, str]:
    return name, f"{name}_low", f"{name}_high"


def _basis(found: pd.DataFrame, network: Network) -> Basis:
    homes = meter_buildings(network)
    bare = sorted(
        str(valve)
        for building, (valve, _) in automatic_valves(network).items()
        if building not in set(found["building_id"]) or building not in set(homes.values())
    )
    sizes = " and ".join(f"{name} of {brief(l_s)} L/s" for name, l_s in ASSUMED_L_S.items())
    first, last = found["first"].min(), found["last"].max()
    return Basis(
        first=None if pd.isna(first) else first.date(),
        last=None if pd.isna(last) else last.date(),
        meters=tuple(found["device_id"]),
        assumptions=(
            "Flow of the past is taken for flow to come: another use of the building needs this "
            "done anew.",
            "A run of flow counts as a false trip where it was one reading short of the time set; "
            "leaks on record and recorded works are left out.",
            f"Where no leak is on record, {sizes} are assumed, unseen for {UNNOTICED_H:.0f} h.",
            "Limits of false trips are exact limits of a count of rare things; they hold where "
            "none was counted too.",
        ),
        limits=(f"No meter read by the hour is known behind {listed(bare)}.",) if bare else (),
    )
