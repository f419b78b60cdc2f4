"""Whether each repair closed its job, or a crew must go back: by what the nights say of it."""

from __future__ import annotations

from typing import Any

import numpy as np
import pandas as pd

from district.schema.columns import empty
from district.schema.ledger_tables import OUTCOMES, VERIFICATIONS
from district.schema.typed import typed
from district.words import brief, day, missing, percent, plural

_SAW_A_DROP = ("verified", "partly", "another_leak")
_NAMED = 5
"""Stretches of a walk that are named; the report has all."""
_LEAKS = ("leak", "growing_leak", "building_flow", "unknown")


def verifications(
    repairs: pd.DataFrame,
    repair_checks: pd.DataFrame,
    events: pd.DataFrame,
    *,
    since: pd.Timestamp | None = None,
) -> pd.DataFrame:
    """Table VERIFICATIONS: each repair on record, the newest first, from `since` on.

    Parameters: `repairs` as `on_record.repairs_on_record` gives them, `repair_checks` table
    REPAIR_CHECKS, `events` table EVENTS. Of a repair that touches several zones the one that tells
    most counts: where a drop is seen in some, the others say nothing of it. Then

    - closed: the drop is verified; or what was left has been mended, or has ended, since;
    - crew_back: the flow it was held against runs on, in part or whole, or another one does;
    - too_early: `nights_more_count` nights must come first;
    - not_told: no flow stood out before it and no drop is seen, or no sound night lies around it.
    """
    rows = []
    for repair in repairs.to_dict("records"):
        if since is not None and repair["repaired"] < since:
            continue
        own = repair_checks[
            (repair_checks["mended_id"] == repair["mended_id"])
            & (pd.to_datetime(repair_checks["repaired"]) == repair["repaired"])
        ]
        rows.append(_row(repair, own, repair_checks, events))
    if not rows:
        return empty(VERIFICATIONS)
    table = typed(pd.DataFrame(rows), VERIFICATIONS)
    order = ["repaired", "work"]
    return table.sort_values(order, ascending=[False, True], kind="stable", ignore_index=True)


def telling(checks: pd.DataFrame) -> pd.DataFrame:
    """Of the checks of one repair those that say something: where a drop is seen, those alone."""
    seen = checks[checks["verdict"].isin(_SAW_A_DROP)]
    return seen if len(seen) else checks


def _row(
    repair: dict[str, Any], own: pd.DataFrame, checks: pd.DataFrame, events: pd.DataFrame
) -> dict[str, Any]:
    kept = {
        "work": f"a repair at {repair['mended_id']} on {day(repair['first'])}",
        "mended_id": repair["mended_id"],
        "repaired": repair["repaired"],
        "cell_id": repair["cell_id"],
        "outcome": "not_told",
        "said": f"No zone or building whose nights are balanced holds {repair['mended_id']}: the "
        "meters cannot tell.",
    }
    judged: list[dict[str, Any]] = [
        {**check, **_judged(check, checks, events)} for check in telling(own).to_dict("records")
    ]
    if not judged:
        return kept
    return {**kept, **sorted(judged, key=_first)[0]}


def _first(row: dict[str, Any]) -> tuple[int, float]:
    """The worst outcome before the better; of two alike the larger drop."""
    drop = row["drop_l_s"]
    return OUTCOMES.index(row["outcome"]), -(0.0 if missing(drop) else float(drop))


def _judged(check: dict[str, Any], checks: pd.DataFrame, events: pd.DataFrame) -> dict[str, Any]:
    """Outcome, sentences and open events of one row of REPAIR_CHECKS."""
    verdict, said = str(check["verdict"]), _sentence(check["said"])
    open_here = _open(events, str(check["place_id"]))
    ran = not missing(check["event_id"])
    goes_on = ran and str(check["event_id"]) in set(open_here)
    if verdict == "too_early":
        return {"outcome": "too_early", "said": said}
    if verdict == "verified":
        return {"outcome": "closed", "said": f"{said} The job is closed."}
    if verdict == "not_seen" and not (check["nights_before_count"] and check["nights_after_count"]):
        return {"outcome": "not_told", "said": f"{said} Have another look by hand."}
    if verdict == "not_seen" and not ran:
        return {"outcome": "not_told", "said": _unheard(check)}
    later = _later(check, checks)
    if later is not None:
        return _handed_on(said, later)
    wanted = open_here if verdict == "another_leak" else [str(check["event_id"])] * goes_on
    if wanted:
        return {"outcome": "crew_back", "said": said, "sought_ids": ", ".join(wanted)}
    over = "what was left has ended since" if ran else "no flow is open there now"
    return {"outcome": "closed", "said": f"{said} But {over}: the job is closed."}


def _handed_on(said: str, later: dict[str, Any]) -> dict[str, Any]:
    """What is left is the matter of a later repair."""
    on = day(later["repaired"])
    if later["verdict"] == "too_early":
        nights = {"nights_more_count": later["nights_more_count"]}
        told = f"{said} But a crew was back on {on}: wait for the nights of that repair."
        return {"outcome": "too_early", "said": told, **nights}
    told = f"{said} But the repair of {on} took up what was left: the job is closed."
    return {"outcome": "closed", "said": told}


def _unheard(check: dict[str, Any]) -> str:
    half = (check["drop_l_s_high"] - check["drop_l_s_low"]) / 2
    shown = f" One of {brief(half)} L/s or more would have shown." if np.isfinite(half) else ""
    return (
        f"No flow stood out at {check['place_id']} before {check['work']}, and no drop is seen "
        f"after it.{shown} So the meters do not tell: listen at the place."
    )


def _open(events: pd.DataFrame, place_id: str) -> list[str]:
    """Open events of a zone or meter that a crew could go and find."""
    here = events[(events["place_id"] == place_id) & (events["state"] == "open")]
    return [str(e) for e in here.loc[here["kind"].isin(_LEAKS), "event_id"]]


def _later(check: dict[str, Any], checks: pd.DataFrame) -> dict[str, Any] | None:
    """The next repair of the same place, and of the same flow unless that one is mended, which
    took something off or is too young to tell."""
    days = pd.to_datetime(checks["repaired"])
    after = (checks["place_id"] == check["place_id"]) & (days > pd.Timestamp(check["repaired"]))
    if check["verdict"] != "another_leak":
        after &= checks["event_id"] == check["event_id"]
    took = checks[after & checks["verdict"].isin((*_SAW_A_DROP, "too_early"))]
    if took.empty:
        return None
    first = took.sort_values("repaired", kind="stable").iloc[0]
    return {str(name): value for name, value in first.items()}


def _sentence(text: Any) -> str:
    said = str(text).rstrip(".")
    return f"{said[:1].upper()}{said[1:]}."


def with_walks(
    table: pd.DataFrame, search_sets: pd.DataFrame, stretches: pd.DataFrame
) -> pd.DataFrame:
    """VERIFICATIONS with where a crew goes back to, from tables SEARCH_SETS and STRETCHES.

    First near what was mended, as a second break or a repair that does not hold is likeliest
    there; then the walk of the open events of the zone, its likeliest stretches first.
    """
    goes, lengths = [], []
    for row in table.to_dict("records"):
        go_to, length_km = "", float("nan")
        if row["outcome"] == "crew_back":
            go_to, length_km = _walk(row, search_sets, stretches)
        goes.append(go_to)
        lengths.append(length_km)
    return table.assign(go_to=goes, walk_km=lengths)


def _walk(
    row: dict[str, Any], search_sets: pd.DataFrame, stretches: pd.DataFrame
) -> tuple[str, float]:
    near = f"Look again at and near {row['mended_id']}"
    wanted = set(str(row["sought_ids"]).split(", "))
    sets = search_sets[search_sets["sought_id"].isin(wanted)]
    on = stretches["sought_ids"].map(lambda ids: bool(wanted & set(str(ids).split(", "))))
    walked = stretches[on.astype(bool)].sort_values("rank", kind="stable")
    if sets.empty or walked.empty:
        return f"{near}.", float("nan")
    length_m = (walked["to_m"] - walked["from_m"]).where(
        walked["to_m"].notna() & walked["from_m"].notna(), walked["length_m"]
    )
    total_m = float(length_m.sum())
    names = [str(name) for name in walked["stretch_id"]]
    first = ", ".join(names[:_NAMED])
    more = f" and {plural(len(names) - _NAMED, 'more stretch', 'more stretches')}"
    held = percent(float(sets["held_share"].min()), decimals=0)
    rest = more if len(names) > _NAMED else ""
    said = (
        f"{near}; then walk {brief(total_m)} m that hold {held} of the probability: {first}{rest}."
    )
    return said, total_m / 1000.0
