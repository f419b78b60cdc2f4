"""Leak events and alarms of zones, buildings and sensors that read 0 or 1."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import numpy as np
import pandas as pd

from district.detect.accused import Accused, accused, blamed
from district.detect.alarms import spells
from district.detect.change import Change
from district.detect.flapping import check_sensors
from district.detect.neighbours import between, cells_at, going_back, partners
from district.detect.places import Place, common_nights, noise_table, prepared
from district.detect.recorded import CAUSES, Work, explaining, near, recorded
from district.detect.runs import Run, runs
from district.detect.together import spoken_for, with_alarms
from district.detect.words import kind_and_reason
from district.network import Network
from district.results import Basis, Events
from district.schema.columns import empty
from district.schema.event_tables import EVENTS, MOVED_KINDS
from district.schema.inputs import ALARM_KINDS
from district.schema.reconciled import METER_CHECKS
from district.settings import Settings
from district.words import brief

ACT_KINDS = ("leak", "growing_leak", "building_flow", "unknown", *ALARM_KINDS, *MOVED_KINDS)
"""Kinds to act on while open."""


def find_events(
    nights: pd.DataFrame,
    building_nights: pd.DataFrame,
    *,
    network: Network,
    alarms: pd.DataFrame,
    works: pd.DataFrame,
    settings: Settings,
    meter_checks: pd.DataFrame | None = None,
    quality: pd.DataFrame | None = None,
) -> Events:
    """Changes of night flow that stayed, and alarms of sensors, newest first.

    Parameters: `nights` table NIGHTS (leakage of each cell and night, L/s), `building_nights`
    table NIGHT_FLOWS (only building meters are used), `alarms` table ALARMS, `works` the input
    table (UTC), `meter_checks` table METER_CHECKS (a meter that is off explains rises),
    `quality` table DEVICE_QUALITY (when each sensor was last read).
    Rows in any order, missing nights allowed; nothing is written to.

    The test is a two-sided cumulative sum at the stated rate of false alarms (see `change`); what
    it gives is dated by maximum likelihood with 95 % limits, joined, ended, and told apart: works
    on record, opposite changes in touching zones, short use, buildings. Volume is size times the
    night-to-day factor (24 h where there is none), in m3.
    """
    places, thin = prepared(nights, building_nights, network, settings)
    axis = common_nights(nights, building_nights)
    clock = settings.zone_info()
    touching = between(network)
    zones = {p.place_id: p.changes for p in places if p.kind == "zone"}
    cancelled = partners(zones, touching)
    done = recorded(works, network=network, cut_cells=cells_at(network), clock=clock)
    back = going_back(cancelled)
    aside = {(other, fall.position) for key, (other, fall) in cancelled.items() if key not in back}
    off = accused(empty(METER_CHECKS) if meter_checks is None else meter_checks)
    rows = [
        _row(place, run, axis, cancelled, touching, done, off, settings)
        for place in places
        for run in _runs(place, aside, settings)
        if (place.place_id, run.position) not in back and _worth_a_row(run, settings)
    ]
    known = axis[-1] if len(axis) else None
    kinds = network.sensors["kind"][network.sensors["kind"].isin(ALARM_KINDS)].to_dict()
    rows = with_alarms(
        rows,
        spells(alarms, kinds=kinds, clock=clock, last_known=known),
        network=network,
        night_end=settings.night.end,
        last_known=known,
    )
    return Events(
        _table(rows),
        _basis(axis, places, thin, settings),
        noise_table(places),
        sensor_checks=check_sensors(
            alarms, quality, network=network, clock=clock, spoken_for=spoken_for(rows)
        ),
    )


def _runs(place: Place, aside: set[tuple[str, int]], settings: Settings) -> tuple[Run, ...]:
    own = {position for name, position in aside if name == place.place_id}
    own = own if place.kind == "zone" else set()
    begun, _ = runs(
        place.flow_l_s,
        sigma_l_s=place.sigma_l_s,
        found=place.changes,
        smallest_l_s=settings.events.smallest_l_s,
        aside=own,
    )
    return begun


def _worth_a_row(run: Run, settings: Settings) -> bool:
    size = run.size_l_s()
    one_night = run.last is not None and run.last <= run.position
    return size >= settings.events.smallest_l_s and size > 0 and not one_night


def _row(
    place: Place,
    run: Run,
    axis: pd.DatetimeIndex,
    cancelled: Mapping[tuple[str, int], tuple[str, Change]],
    touching: Mapping[frozenset[str], str],
    works: tuple[Work, ...],
    off: tuple[Accused, ...],
    settings: Settings,
) -> dict[str, Any]:
    last = place.last() if run.last is None else run.last
    start, low, high = axis[run.position], axis[run.low], axis[run.high]
    partner = cancelled.get((place.place_id, run.position)) if place.kind == "zone" else None
    meter = None
    if place.kind == "zone":
        meter = blamed(
            place.place_id,
            off,
            low=low,
            high=high,
            size_l_s=run.size_l_s() + run.fell_l_s,
            error_l_s=run.error_l_s,
        )
    explained = explaining(place.place_id, works, start=start, low=low, high=high, last=axis[last])
    kind, reason = kind_and_reason(
        place.kind,
        run,
        axis,
        explained=explained,
        nearby=near(place.place_id, works, CAUSES, low=low, high=high),
        mended=None
        if run.last is None
        else near(place.place_id, works, ("repair",), low=axis[run.last], high=axis[run.last]),
        partner=partner
        and (
            partner[0],
            -partner[1].size_l_s,
            touching[frozenset({place.place_id, partner[0]})],
        ),
        meter=meter,
    )
    size = float(run.flow_l_s[last])
    half = float(np.hypot(1.96 * run.error_l_s, size * place.error_share))
    daily = run.flow_l_s * place.m3_per_l_s
    volume = float(daily[run.position : last + 1].sum())
    by_size = volume * float(np.hypot(half / size, place.factor_share)) if size > 0 else 0.0
    later = float(daily[run.position : run.high].sum())
    earlier = float(daily[run.position]) * (run.position - run.low)
    state = "open" if run.last is None else "ended"
    state = "explained" if explained is not None else state
    moved = kind in MOVED_KINDS  # Between zones, not lost: it has no volume and no cost.
    if moved:
        volume = by_size = later = earlier = float("nan")
    return {
        "key": (place.place_id, run.position),
        "place_kind": place.kind,
        "place_id": place.place_id,
        "cell_id": place.cell_id,
        "other_cell_id": _other(meter, partner) if moved else "",
        "kind": kind,
        "reason": reason,
        "state": state,
        "start": start,
        "start_low": low,
        "start_high": high,
        "detected": axis[run.detected],
        "end": pd.NaT if run.last is None else axis[run.last],
        "size_l_s": size,
        "size_l_s_low": max(0.0, size - half),
        "size_l_s_high": size + half,
        "growth_l_s_d": run.growth_l_s_d,
        "volume_m3": volume,
        "volume_m3_low": float(np.maximum(0.0, volume - np.hypot(by_size, later))),
        "volume_m3_high": volume + float(np.hypot(by_size, earlier)),
        "cost_currency": volume * settings.costs.water_currency_m3,
    }


def _other(meter: Accused | None, partner: tuple[str, Change] | None) -> str:
    if meter is not None:
        return meter.other_cell_id
    return partner[0] if partner else ""


def _table(rows: list[dict[str, Any]]) -> pd.DataFrame:
    if not rows:
        return empty(EVENTS)
    frame = pd.DataFrame(rows)
    frame["act"] = (frame["state"] == "open") & frame["kind"].isin(ACT_KINDS)
    frame["act"] &= ~frame["weak"].astype(bool)  # Chatter: the check of the sensor tells of it.
    frame["event_id"] = "E-" + frame["place_id"] + "-" + frame["start"].dt.strftime("%Y-%m-%d")
    frame = frame.sort_values(["start", "event_id"], ascending=[False, True], kind="stable")
    again = frame.groupby("event_id").cumcount()
    frame["event_id"] += np.where(again > 0, "-" + (again + 1).astype(str), "")
    frame = frame.reindex(columns=list(EVENTS.names())).reset_index(drop=True)
    frame["other_cell_id"] = frame["other_cell_id"].fillna("")
    for column in EVENTS.columns:
        if column.kind == "real":
            frame[column.name] = frame[column.name].astype(float)
        if column.kind == "date":
            frame[column.name] = pd.to_datetime(frame[column.name])
    return frame


def _basis(
    axis: pd.DatetimeIndex, places: list[Place], thin: list[str], settings: Settings
) -> Basis:
    rate = settings.events.false_alarms_per_year
    buildings = [p.place_id for p in places if p.kind == "building"]
    return Basis(
        first=axis[0].date() if len(axis) else None,
        last=axis[-1].date() if len(axis) else None,
        meters=tuple(buildings),
        assumptions=(
            f"The change test is set to {rate:g} false alarms a year in each zone or building, "
            "rises and falls together, counted on nights that vary only by chance.",
            f"Changes below {brief(settings.events.smallest_l_s)} L/s, and single nights, "
            "are not listed.",
            "A leak is taken to run on nights without a reading between its start and end.",
        ),
        limits=tuple(thin),
    )
