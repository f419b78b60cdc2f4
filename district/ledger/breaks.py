"""Repairs on record as breaks of their pipes, none counted twice."""

from __future__ import annotations

import pandas as pd

SAME_BREAK_D = 30
"""A break so near in time to another of the same pipe is that one: found on one day, mended on a
later one. Common practice, no source."""
_KINDS = {"": "main", "main": "main", "joint": "main", "fitting": "main", "service": "service"}


def breaks_with_repairs(
    breaks: pd.DataFrame, repairs: pd.DataFrame, repair_checks: pd.DataFrame
) -> pd.DataFrame:
    """Table BREAKS with each repaired leak that it does not hold yet, in order after its own.

    `repairs` as `on_record.repairs_on_record` gives them, `repair_checks` table REPAIR_CHECKS. A
    repair of a pipe, or of a connection (a service pipe), is a break of that pipe on its first day;
    behind a building's meter it is none. Not counted are one within a month of a break of the same
    pipe, and another repair of the same event on the same pipe: the first did not hold.
    """
    dated = breaks.dropna(subset=["date", "pipe_id"])
    known = {pipe: list(own) for pipe, own in dated.groupby("pipe_id")["date"]}
    event = event_of(repairs, repair_checks)
    seen: set[tuple[str, str]] = set()
    added = []
    for n, row in enumerate(repairs.to_dict("records")):
        pipe, day, kind = str(row["pipe_id"]), row["first"], _KINDS.get(str(row["leak_kind"]))
        if not pipe or kind is None:
            continue
        same_event = bool(event[n]) and (pipe, event[n]) in seen
        seen.add((pipe, event[n]))
        days = known.setdefault(pipe, [])
        if same_event or any(abs((day - other).days) <= SAME_BREAK_D for other in days):
            continue
        days.append(day)
        added.append({"date": day, "pipe_id": pipe, "kind": kind})
    if not added:
        return breaks
    rows = pd.DataFrame(added)
    return rows if breaks.empty else pd.concat([breaks, rows], ignore_index=True)


def event_of(repairs: pd.DataFrame, repair_checks: pd.DataFrame) -> list[str]:
    """The event that each repair ended or eased, '' if none."""
    known = repair_checks[repair_checks["event_id"].fillna("") != ""]
    told = {
        (str(place), pd.Timestamp(day)): str(event)
        for place, day, event in zip(
            known["mended_id"], known["repaired"], known["event_id"], strict=True
        )
    }
    keys = zip(repairs["mended_id"], repairs["repaired"], strict=True)
    return [told.get((str(place), pd.Timestamp(day)), "") for place, day in keys]
