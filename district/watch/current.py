"""The alarms there are with the present data, each once, before anything is compared."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date
from typing import Any

import numpy as np
import pandas as pd

from district.errors import visible
from district.results import Events
from district.schema.columns import empty
from district.schema.event_tables import TOLD
from district.schema.typed import typed
from district.watch.headlines import building_line, event_line, repair_line, sensor_line
from district.words import day, missing, true

REPAIR_NIGHTS = 60
"""A repair is told of for this long; after that it is history."""
_ACTING = ("partly", "another_leak")
_DONE = ("verified",)
_OFF = ("dead", "stuck")
_ESTIMATES = ("size_l_s", "volume_m3", "cost_currency")
Rows = list[dict[str, Any]]


def alarms_now(
    events: Events, silent: pd.DataFrame, places: pd.DataFrame, *, last: date, currency: str
) -> pd.DataFrame:
    """Every alarm with the present data as table TOLD, nothing yet told of them.

    `silent` are the rows of `silent_devices`, `places` table WATCHED, `last` the last night.
    What two tables say of one thing is one alarm: a building's constant flow goes to its event, a
    meter that is silent is not called dead too. `rank` holds the class of urgency for now,
    `alarm_id` the id to be given to an alarm not known before. Nothing is written to.
    """
    names = _names(places)
    flows = _events(events.events, names, currency)
    checks = _buildings(events.building_checks, names, currency)
    sensors = _sensors(events.sensor_checks, names)
    flows, checks = _folded(flows, checks)
    quiet = set(silent["match"])
    checks = [r for r in checks if r["match"] not in quiet]
    running = {r["place_id"] for r in flows if r["act"]}
    repairs = _repairs(events.repair_checks, names, running, pd.Timestamp(last))
    rows = [*flows, *checks, *sensors, *repairs, *silent.to_dict("records")]
    if not rows:
        return empty(TOLD)
    frame = typed(pd.DataFrame(rows), TOLD)
    # What ids and names of the user's hold is told on one line, in pages and feeds too.
    frame["headline"] = frame["headline"].map(visible)
    return frame


def _names(places: pd.DataFrame) -> dict[tuple[str, str], str]:
    kinds, ids, said = (places[c].to_numpy() for c in ("place_kind", "place_id", "place"))
    return dict(zip(zip(kinds, ids, strict=True), said, strict=True))


def _place(names: Mapping[tuple[str, str], str], kind: str, own_id: str) -> str:
    return names.get(("meter" if kind == "building" else kind, own_id), f"{kind} {own_id}")


def _estimates(row: Mapping[str, Any], **named: str) -> dict[str, Any]:
    """Estimates of the alarm from the columns that hold them."""
    return {
        f"{to}{end}": row.get(f"{name}{end}", np.nan)
        for to, name in named.items()
        for end in ("", "_low", "_high")
    }


def _events(frame: pd.DataFrame, names: Mapping[tuple[str, str], str], currency: str) -> Rows:
    rows = []
    for e in frame.to_dict("records"):
        kind, own_id = str(e["place_kind"]), str(e["place_id"])
        place = _place(names, kind, own_id)
        order = 0.0 if missing(e["rank"]) else min(float(e["rank"]), 1e6) * 1e-7
        family = "alarm" if kind == "sensor" else "flow"
        rows.append(
            {
                "alarm_id": str(e["event_id"]),
                "about": "event",
                "place_id": own_id,
                "place": place,
                "cell_id": e["cell_id"],
                "kind": e["kind"],
                "kind_share": e["kind_share"],
                "state": e["state"],
                "start": e["start"],
                # As people are told: whether it stepped or grew.
                "start_low": e["start"] if missing(e["since_first"]) else e["since_first"],
                "start_high": e["start"] if missing(e["since_last"]) else e["since_last"],
                "end": e["end"],
                **_estimates(e, **{name: name for name in _ESTIMATES}),
                "headline": event_line(e, place, currency),
                "reason": _sentences(e["reason"]),
                "rank": order,
                "act": true(e["act"]),
                "match": f"{family}|{kind}|{own_id}",
                "over": str(e["state"]) != "open",
            }
        )
    return rows


def _buildings(frame: pd.DataFrame, names: Mapping[tuple[str, str], str], currency: str) -> Rows:
    rows = []
    # What passes an empty building is often cleaners or a cistern: told only if worth a visit.
    passes = (frame["verdict"] == "empty_flow") & frame["act"].map(true).astype(bool)
    told = frame["verdict"].isin(("constant_flow", *_OFF)) | passes
    for b in frame[told].to_dict("records"):
        own_id, verdict = str(b["device_id"]), str(b["verdict"])
        since = b["first"] if missing(b["since"]) else b["since"]
        place = _place(names, "building", own_id)
        flows = verdict not in _OFF
        named = {"size_l_s": "constant_l_s", "volume_m3": "volume_m3"} if flows else {}
        rows.append(
            {
                "alarm_id": f"{'B' if flows else 'D'}-{own_id}-{day(since)}",
                "about": "building",
                "place_id": own_id,
                "place": place,
                "cell_id": b["cell_id"],
                "kind": verdict,
                "state": "open",
                "start": since,
                "start_low": since,
                "start_high": since,
                **_estimates(b, **named),
                "headline": building_line(b, place, currency),
                "reason": _sentences(
                    b["said"], "" if missing(b["rests_on"]) else f"it rests on {b['rests_on']}"
                ),
                "rank": 2.0 if flows else 5.0,
                "act": true(b["act"]),
                "match": f"flow|building|{own_id}" if flows else f"device|{own_id}",
                "over": False,
            }
        )
    return rows


def _folded(flows: Rows, checks: Rows) -> tuple[Rows, Rows]:
    """What a check says of a meter goes to the latest open event of the same meter."""
    latest: dict[str, dict[str, Any]] = {}
    for row in flows:
        if not row["over"] and row["match"].startswith("flow|building|"):
            held = latest.get(row["match"])
            if held is None or row["start"] > held["start"]:
                latest[row["match"]] = row
    said = {r["match"]: r for r in checks if r["match"] in latest}
    joined = [
        {
            **row,
            "reason": _sentences(row["reason"], said[row["match"]]["reason"]),
            "act": row["act"] or said[row["match"]]["act"],
        }
        if row is latest.get(row["match"]) and row["match"] in said
        else row
        for row in flows
    ]
    return joined, [r for r in checks if r["match"] not in latest]


def _sentences(*parts: Any) -> str:
    """The parts that say anything, each as a sentence."""
    said = [visible(str(part)).strip().rstrip(".") for part in parts if not missing(part)]
    return " ".join(f"{part[:1].upper()}{part[1:]}." for part in said if part)


def _sensors(frame: pd.DataFrame, names: Mapping[tuple[str, str], str]) -> Rows:
    """Sensors that cannot be believed; those that are silent are told as all devices are."""
    rows = []
    for s in frame[frame["verdict"].isin(("flapping", "always_on"))].to_dict("records"):
        own_id, verdict = str(s["sensor_id"]), str(s["verdict"])
        place = _place(names, "sensor", own_id)
        rows.append(
            {
                "alarm_id": f"S-{own_id}-{day(s['last_reading'])}",
                "about": "sensor",
                "place_id": own_id,
                "place": place,
                "cell_id": s["cell_id"],
                "kind": verdict,
                "state": "open",
                "headline": sensor_line(s, place),
                "reason": _sentences(s["said"]),
                "rank": 4.0,
                "act": True,
                "match": f"sensor|{own_id}",
                "over": False,
            }
        )
    return rows


def _repairs(
    frame: pd.DataFrame,
    names: Mapping[tuple[str, str], str],
    running: set[str],
    last: pd.Timestamp,
) -> Rows:
    """Repairs of late; one that left a leak asks for action where no event does so already."""
    rows = []
    recent = frame[pd.to_datetime(frame["repaired"]) > last - pd.Timedelta(days=REPAIR_NIGHTS)]
    for r in recent.to_dict("records"):
        own_id, verdict = str(r["place_id"]), str(r["verdict"])
        zone = ("zone", own_id) in names
        place = _place(names, "zone" if zone else "building", own_id)
        named = {} if verdict == "too_early" else {"size_l_s": "remaining_l_s"}
        rows.append(
            {
                "alarm_id": f"R-{own_id}-{day(r['repaired'])}",
                "about": "repair",
                "place_id": own_id,
                "place": place,
                "cell_id": own_id if zone else "",
                "kind": verdict,
                "state": "closed" if verdict in _DONE else "open",
                "start": r["repaired"],
                "start_low": r["repaired"],
                "start_high": r["repaired"],
                "end": r["repaired"] if verdict in _DONE else pd.NaT,
                **_estimates(r, **named),
                "headline": repair_line(r, place),
                "reason": _sentences(r["said"]),
                "rank": 3.0,
                "act": verdict in _ACTING and own_id not in running,
                "match": f"repair|{own_id}|{day(r['repaired'])}|{r['work']}",
                "over": verdict in _DONE,
            }
        )
    return rows
