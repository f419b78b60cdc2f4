"""What is news to a person: the alarms of today against what was told with the data before."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date
from typing import Any

import numpy as np
import pandas as pd

from district.schema.columns import empty
from district.schema.event_tables import MORNING, TOLD
from district.schema.typed import typed
from district.watch.changed import changed, remembered
from district.watch.matching import matched
from district.words import day

KEEP_NIGHTS = 35
"""What was over longer ago than this is history: neither told nor kept to be told."""
_SETTLED = pd.Timedelta(days=2)
"""What went by itself is told to be over after so many nights: one low night ends no leak."""
_ORDER = {"new": 0, "changed": 1, "closed": 2, "withdrawn": 3, "standing": 4}
_SEEN = ("flow", "alarm")
"""Families that are seen in the readings; of the others each ends when it is not there."""
_EPOCH = pd.Timestamp("1970-01-01")
_UNJUDGED = "Not judged: there are no readings of its place now. It was told: "


def compare(
    before: pd.DataFrame | None,
    now: pd.DataFrame,
    places: pd.DataFrame,
    *,
    last: date,
    edition_utc: pd.Timestamp,
) -> tuple[pd.DataFrame, pd.DataFrame]:
    """What to know this morning (table MORNING), and what is told with it (TOLD).

    `before` is what was told with the data before, None if nothing was; `now` comes from
    `alarms_now`, `places` is table WATCHED, `last` the last night of the data, `edition_utc`
    their last reading. An alarm told before keeps its id and first date. It is news again only
    where its kind, state or call to act changes, or its flow leaves the limits last told by half.
    One that is no longer seen is withdrawn, unless nothing is left to judge its place
    by: then it stands. What was over before it was ever told is news only for `KEEP_NIGHTS`, and
    never on a first run. Nothing is written to.
    """
    first_run = before is None
    old = empty(TOLD) if before is None else before
    old = typed(old.reset_index(drop=True), TOLD)
    today = pd.Timestamp(last)
    pairs = matched(old, now)
    fresh, said = now.to_dict("records"), old.to_dict("records")
    used = {str(r["alarm_id"]) for r in said}
    horizon = today - pd.Timedelta(days=KEEP_NIGHTS)
    dated = {"updated": today, "updated_utc": edition_utc}
    rows: list[dict[str, Any]] = []
    for at, row in enumerate(fresh):
        if at in pairs:
            rows.append(_known(said[pairs[at]], row, dated, horizon))
            continue
        news = "new" if not row["over"] or (not first_run and _late(row, horizon)) else ""
        own_id = _unused(str(row["alarm_id"]), used)
        rows.append(
            {**row, **dated, "alarm_id": own_id, "first_told": today, "news": news}
            | remembered(row)
        )
    found = set(pairs.values())
    gone = [row for at, row in enumerate(said) if at not in found]
    known = _states(places)
    rows += [r for row in gone if (r := _gone(row, known, dated, horizon)) is not None]
    if not rows:
        return empty(MORNING), empty(TOLD)
    frame = pd.DataFrame(rows)
    frame["rank"] = _ranked(frame)
    told = typed(frame, TOLD)
    shown = _sorted(frame[frame["news"] != ""])
    return typed(shown, MORNING).reset_index(drop=True), told.sort_values(
        "alarm_id", ignore_index=True
    )


def _known(
    old: Mapping[str, Any], row: Mapping[str, Any], dated: Mapping[str, Any], horizon: pd.Timestamp
) -> dict[str, Any]:
    """An alarm told before, as it is now: what changed, if that is news."""
    kept = {name: old[name] for name in ("alarm_id", "first_told", "updated", "updated_utc")}
    what = changed(old, row)
    was_over, is_over = bool(old["over"]), bool(row["over"])
    fresh_end = row["state"] == "ended" and dated["updated"] - row["end"] < _SETTLED
    if is_over and not was_over and fresh_end:
        return {**old, "news": "standing", "rank": _class(old)}
    if is_over and not was_over:
        news = "closed"
    elif is_over:
        # Of what is over a better account is news, for a while.
        news = "changed" if what and old["updated"] > horizon else ""
    else:
        news = "changed" if what else "standing"
    if news in ("", "standing"):
        memory = {name: old[name] for name in remembered(old)}
        return {**row, **kept, **memory, "news": news}
    reason = str(row["reason"])
    if what:
        reason = f"{reason.rstrip('.')}. Since it was last told: {what}.".removeprefix(". ")
    return {**row, **kept, **dated, **remembered(row), "reason": reason, "news": news}


def _gone(
    old: Mapping[str, Any],
    known: Mapping[str, bool],
    dated: Mapping[str, Any],
    horizon: pd.Timestamp,
) -> dict[str, Any] | None:
    """What becomes of an alarm told before that the present data do not show; None: forgotten."""
    if old["over"]:
        return {**old, "news": ""} if old["updated"] > horizon else None
    family = str(old["match"]).split("|", 1)[0]
    own_id = str(old["place_id"])
    there = known.get(own_id) if "|file|" not in str(old["match"]) else True
    end = dated["updated"]
    if there is None:
        news, state = "withdrawn", "withdrawn"
        reason = "Its place is no longer on the map."
    elif family == "repair":
        return {**old, "news": "", "over": True, "act": False, "end": end}
    elif family in _SEEN and not there:
        return {
            **old,
            "news": "standing",
            "reason": _UNJUDGED + str(old["reason"]).removeprefix(_UNJUDGED),
            "rank": _class(old),
        }
    elif family in _SEEN and old["about"] == "event":
        news, state = "withdrawn", "withdrawn"
        reason = (
            f"Told with the data to {day(old['updated'])}; with those to {day(end)} it no longer "
            "stands out: later or corrected readings, a work on record or other settings account "
            "for it."
        )
    else:
        news, state, reason = "closed", "closed", _ended(old)
    return {
        **old,
        **dated,
        "news": news,
        "state": state,
        "told_state": state,
        "reason": reason,
        "over": True,
        "act": False,
        "end": end,
    }


def _class(old: Mapping[str, Any]) -> float:
    """The class of urgency of flows and alarms that are told as they were."""
    return 2.0 if old["about"] == "building" else 0.0


def _ended(old: Mapping[str, Any]) -> str:
    if old["about"] == "device":
        return "Readings have come in again."
    if old["about"] == "sensor":
        return "It behaves as it should again."
    if old["kind"] in ("constant_flow", "empty_flow"):
        return "The meter has stood still again: nothing runs there without an end."
    if old["kind"] == "empty_flow":
        return "Little or nothing passes any more while nobody is there."
    return "The meter counts again."


def _late(row: Mapping[str, Any], horizon: pd.Timestamp) -> bool:
    """Whether what is over already was still running lately."""
    end = row["start"] if pd.isna(row["end"]) else row["end"]
    return bool(end > horizon)


def _states(places: pd.DataFrame) -> dict[str, bool]:
    """Place -> whether there are readings to judge it by; a meter and a zone may share a name."""
    return {
        str(own_id): bool(judged)
        for own_id, judged in places.groupby("place_id")["judged"].any().items()
    }


def _unused(own_id: str, used: set[str]) -> str:
    found, count = own_id, 1
    while found in used:
        count += 1
        found = f"{own_id}-{count}"
    used.add(found)
    return found


def _ranked(frame: pd.DataFrame) -> pd.Series[Any]:
    """Order to act in: by class, within it the larger flow first; empty where nothing is to do."""
    act = frame["act"].astype(bool)
    order = pd.DataFrame(
        {
            "class": frame["rank"].astype(float).fillna(9.0),
            "flow": -frame["size_l_s"].astype(float).fillna(0.0),
            "id": frame["alarm_id"],
        }
    )[act].sort_values(["class", "flow", "id"], kind="stable")
    rank = pd.Series(np.nan, index=frame.index)
    rank[order.index] = np.arange(1.0, len(order) + 1.0)
    return rank


def _sorted(frame: pd.DataFrame) -> pd.DataFrame:
    """What to act on in order, then the rest: the news first, the latest start first."""
    return frame.assign(
        last=frame["rank"].isna(),
        order=frame["news"].map(_ORDER),
        started=-(pd.to_datetime(frame["start"]) - _EPOCH).dt.days.fillna(0),
    ).sort_values(["last", "rank", "order", "started", "alarm_id"], kind="stable")
