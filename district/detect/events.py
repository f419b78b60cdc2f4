"""Leak events and alarms of zones, buildings and sensors."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import numpy as np
import pandas as pd

from district.detect.accused import accused
from district.detect.alarms import spells
from district.detect.by_hour import hour_evidence
from district.detect.causes import LEAKS, causes_table
from district.detect.changed import Changed, find_changes
from district.detect.cost import measures
from district.detect.flapping import check_sensors
from district.detect.hours import gridded
from district.detect.naming import Named, named
from district.detect.places import noise_table
from district.detect.ranking import rank_events
from district.detect.repairs import check_repairs
from district.detect.together import spoken_for, tiers, with_alarms
from district.detect.users import daily_evidence
from district.network import Network
from district.results import Basis, Events
from district.schema.columns import empty
from district.schema.event_tables import EVENTS, MOVED_KINDS
from district.schema.inputs import ALARM_KINDS
from district.schema.reconciled import METER_CHECKS
from district.schema.typed import typed
from district.settings import Settings
from district.words import brief

ACT_KINDS = ("leak", "growing_leak", "building_flow", "unknown", *ALARM_KINDS, *MOVED_KINDS)
"""Kinds to act on while open."""
REPAIRABLE = (*LEAKS, "unknown")
"""Kinds that a repair may end."""


def find_events(
    nights: pd.DataFrame,
    building_nights: pd.DataFrame,
    *,
    network: Network,
    alarms: pd.DataFrame,
    works: pd.DataFrame,
    settings: Settings,
    meter_checks: pd.DataFrame | None = None,
    hourly: pd.DataFrame | None = None,
    daily_volumes: pd.DataFrame | None = None,
    changed: Changed | None = None,
    quality: pd.DataFrame | None = None,
) -> Events:
    """Changes of night flow that stayed, and alarms of sensors, newest first; what each may be, and
    what repairs did.

    Parameters: `nights` table NIGHTS (leakage of each cell and night, L/s), `building_nights`
    table NIGHT_FLOWS (only building meters are used), `alarms` table ALARMS, `works` the input
    table (UTC), `meter_checks` table METER_CHECKS (a meter that is off explains rises), `hourly`
    net inflow of zones by local day and hour (cell_id, day, hour, flow_l_s) on the days of
    `hours_wanted`, `daily_volumes` table DAILY_VOLUMES of users not read through the night,
    `changed` what `find_changes` gave for the same tables (else it is found here), `quality` table
    DEVICE_QUALITY (when each sensor was last read). Rows in any order, missing nights allowed;
    nothing is written to. Without `hourly` causes are told by the rest of the evidence.

    The test keeps to the stated rate of false alarms (see `change`); what it gives is dated by
    maximum likelihood with 95 % limits, joined, ended, and told apart: works on record, opposite
    changes in touching zones, the change by hour of day, its course in time (see `causes`).
    Volume is size times the night-to-day factor (24 h where there is none), in m3.
    """
    if changed is None:
        changed = find_changes(
            nights, building_nights, network=network, works=works, settings=settings
        )
    found = named(
        changed,
        by_hour=hour_evidence(changed, gridded(hourly, changed.axis), settings=settings),
        fed_from_outside=_fed_from_outside(network),
        used=daily_evidence(changed, daily_volumes, network=network),
        off=accused(empty(METER_CHECKS) if meter_checks is None else meter_checks),
        settings=settings,
    )
    rows = [_row(one, changed.axis, settings) for one in found]
    last_known = changed.axis[-1] if len(changed.axis) else None
    kinds = network.sensors["kind"][network.sensors["kind"].isin(ALARM_KINDS)].to_dict()
    clock = settings.zone_info()
    rows = with_alarms(
        rows,
        spells(alarms, kinds=kinds, clock=clock, last_known=last_known),
        network=network,
        night_end=settings.night.end,
        last_known=last_known,
    )
    events, ids = _table(rows, last_known)
    return Events(
        events,
        _basis(changed, settings),
        noise_table(list(changed.places)),
        causes=causes_table([(ids[_key(one)], one.weighed) for one in found]),
        repair_checks=check_repairs(
            changed.places,
            changed.runs,
            changed.works,
            changed.axis,
            event_ids=ids,
            leaking=frozenset(_key(one) for one in found if one.kind in REPAIRABLE),
            smallest_l_s=settings.events.smallest_l_s,
        ),
        sensor_checks=check_sensors(
            alarms, quality, network=network, clock=clock, spoken_for=spoken_for(rows)
        ),
    )


def _key(one: Named) -> tuple[str, int]:
    return one.place.place_id, one.run.position


def _fed_from_outside(network: Network) -> frozenset[str]:
    """Zones with a meter between them and what is outside the district."""
    sides = network.boundaries[["upstream_cell_id", "downstream_cell_id"]].fillna("")
    outer = sides[(sides == "").any(axis=1)].to_numpy().ravel()
    return frozenset(str(c) for c in outer if c)


def _row(one: Named, axis: pd.DatetimeIndex, settings: Settings) -> dict[str, Any]:
    place, run = one.place, one.run
    earliest, latest = run.likely_start()
    return {
        "key": _key(one),
        "place_kind": place.kind,
        "place_id": place.place_id,
        "cell_id": place.cell_id,
        "other_cell_id": one.other_cell_id,
        "kind": one.kind,
        "kind_share": one.weighed.shares[one.kind],
        "reason": one.reason,
        "state": one.state,
        "start": axis[run.position],
        "start_low": axis[run.low],
        "start_high": axis[run.high],
        "since_first": axis[earliest],
        "since_last": axis[latest],
        "detected": axis[run.detected],
        "end": pd.NaT if run.last is None else axis[run.last],
        "support": "flow",
        "work": one.work,
        "act": one.acts(ACT_KINDS),
        # Between zones, not lost: it has no volume and no cost.
        **measures(
            place,
            run,
            last=one.last,
            water_currency_m3=settings.costs.water_currency_m3,
            lost=one.kind not in MOVED_KINDS,
        ),
    }


def _table(
    rows: list[dict[str, Any]], last_known: pd.Timestamp | None
) -> tuple[pd.DataFrame, Mapping[tuple[str, int], str]]:
    """Table EVENTS, and the id of each run's event by place and position."""
    if not rows:
        return empty(EVENTS), {}
    frame = pd.DataFrame(rows)
    frame["event_id"] = "E-" + frame["place_id"] + "-" + frame["start"].dt.strftime("%Y-%m-%d")
    frame = frame.sort_values(["start", "event_id"], ascending=[False, True], kind="stable")
    again = frame.groupby("event_id").cumcount()
    frame["event_id"] += np.where(again > 0, "-" + (again + 1).astype(str), "")
    keys = frame["key"] if "key" in frame else pd.Series(dtype=object)
    ids = {k: i for k, i in zip(keys, frame["event_id"], strict=False) if isinstance(k, tuple)}
    frame = typed(frame, EVENTS).reset_index(drop=True)
    steps = None if last_known is None else tiers(frame, last_known=last_known)
    frame["rank"] = rank_events(frame, tiers=steps)
    return frame, ids


def _basis(changed: Changed, settings: Settings) -> Basis:
    rate = settings.events.false_alarms_per_year
    axis = changed.axis
    buildings = [p.place_id for p in changed.places if p.kind == "building"]
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
        limits=changed.thin,
    )
