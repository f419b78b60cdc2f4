"""The ledger: one row a leak, from repairs, surveys, breaks and events, none of them twice."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

import pandas as pd

from district.ledger.breaks import SAME_BREAK_D, event_of
from district.ledger.on_record import Where
from district.ledger.verify import telling
from district.schema.columns import empty
from district.schema.ledger_tables import LEDGER
from district.schema.typed import typed
from district.words import day, missing, natural

FOUND_BEFORE_D = 60
"""What was found on a pipe so long before its repair is what was mended. Common practice, no
source."""
_LEAK_KINDS = ("leak", "growing_leak", "building_flow")
_ESTIMATES = ("", "_low", "_high")
_ROW = "row "


def ledger_of(
    repairs: pd.DataFrame,
    repair_checks: pd.DataFrame,
    events: pd.DataFrame,
    surveys: pd.DataFrame,
    breaks: pd.DataFrame,
    *,
    where: Where,
) -> pd.DataFrame:
    """Table LEDGER, the newest first.

    Parameters: `repairs` as `on_record.repairs_on_record` gives them, tables REPAIR_CHECKS, EVENTS,
    SURVEYS and BREAKS. Repairs of one event at one place are one leak; one after which no drop is
    seen is a leak without an event, as the flow it was meant for runs on; such repairs of one place
    within a month of each other are one leak. An event that was mended
    at several places is a leak at each: its water is shared by how much each repair took off, and
    where that is not known, alike. Breaks within a month of a repair of the same pipe are that
    leak. Awareness, location and repair are the parts of a leak's run time that the component
    method names (Lambert 1994, from memory).
    """
    # What took nothing off a flow did not mend that leak, though it may have mended another.
    event = event_of(repairs, repair_checks[repair_checks["verdict"] != "not_seen"])
    groups: dict[tuple[str, str], list[int]] = {}
    days = pd.to_datetime(repairs["repaired"]).tolist()
    for n, place in enumerate(repairs["mended_id"]):
        groups.setdefault((str(place), event[n] or _bare(str(place), n, days, groups)), []).append(
            n
        )
    known = {str(row["event_id"]): row for row in events.to_dict("records")}
    mended = [
        _mended(repairs.iloc[rows], known.get(named), repair_checks, surveys, breaks)
        for (_, named), rows in groups.items()
    ]
    _share_water(mended)
    rows = [
        *mended,
        *_found(surveys, repairs, where),
        *_recorded(breaks, repairs, where),
        *_unfound(events, {row["event_id"] for row in mended}),
    ]
    if not rows:
        return empty(LEDGER)
    table = typed(pd.DataFrame(rows), LEDGER)
    again = table.groupby("leak_id").cumcount()
    table["leak_id"] += again.map(lambda n: f"-{n + 1}" if n else "")
    newest = table["found"].fillna(table["started"])
    order = table.assign(_at=newest).sort_values(["_at", "leak_id"], ascending=[False, True])
    return table.loc[order.index].reset_index(drop=True)


def _bare(
    place: str, n: int, days: list[pd.Timestamp], groups: dict[tuple[str, str], list[int]]
) -> str:
    """What a repair without an event goes by: that of one before it at the same place, if that is
    no more than a month ago, as such breaks are one too."""
    for (other, name), rows in groups.items():
        near = (days[n] - days[rows[-1]]).days <= SAME_BREAK_D
        if other == place and name.startswith(_ROW) and near:
            return name
    return f"{_ROW}{n}"


def _mended(
    repairs: pd.DataFrame,
    event: dict[str, Any] | None,
    checks: pd.DataFrame,
    surveys: pd.DataFrame,
    breaks: pd.DataFrame,
) -> dict[str, Any]:
    """A leak that was mended at one place, once or more often."""
    first, last = repairs.iloc[0], repairs.iloc[-1]
    told = [_check(row, checks) for row in (first, last)]
    verdict = "" if told[1] is None else str(told[1]["verdict"])
    kinds = [kind for kind in repairs["leak_kind"] if kind]
    kinds = kinds or list(breaks.loc[_same_leak(breaks, repairs), "kind"])
    building = told[1] is not None and event is not None and event["place_kind"] == "building"
    began = pd.NaT if event is None else event["start"]
    found, on_record = _found_on(first, surveys, began)
    row: dict[str, Any] = {
        "leak_id": f"L-{last['mended_id']}-{day(last['repaired'])}",
        "found": found,
        "place_id": last["mended_id"],
        "cell_id": last["cell_id"] or ("" if event is None else event["cell_id"]),
        "kind": kinds[-1] if kinds else "indoors" if building else "not_told",
        "state": "partly" if verdict in ("partly", "another_leak") else "repaired",
        "verdict": verdict,
        "event_id": "" if event is None else event["event_id"],
        "job_ids": ", ".join(natural(", ".join(repairs["job_ids"]).replace(",", " ").split())),
        "repaired": last["repaired"],
        "repairs_count": len(repairs),
        "judged_l_s": repairs["judged_l_s"].max(),
        "repair_currency": repairs["repair_currency"].sum(min_count=1),
        "_drop": _drop(repairs, checks),
    }
    for end in _ESTIMATES:
        row[f"before_l_s{end}"] = float("nan") if told[0] is None else told[0][f"before_l_s{end}"]
        row[f"after_l_s{end}"] = float("nan") if told[1] is None else told[1][f"remaining_l_s{end}"]
    if event is not None:
        row |= _times(event, found, last["repaired"], on_record)
        row |= _water(event)
    return row


def _same_leak(breaks: pd.DataFrame, repairs: pd.DataFrame) -> pd.Series[Any]:
    """Which breaks are of the pipe of some of the repairs, and within a month of it."""
    window = pd.Timedelta(days=SAME_BREAK_D)
    same = pd.Series(False, index=breaks.index)
    for row in repairs.itertuples():
        near = breaks["date"].between(row.first - window, row.repaired + window)
        same |= near & (breaks["pipe_id"] == row.pipe_id)
    return same


def _check(repair: Any, checks: pd.DataFrame) -> dict[str, Any] | None:
    same = checks["mended_id"] == repair["mended_id"]
    own = telling(checks[same & (pd.to_datetime(checks["repaired"]) == repair["repaired"])])
    if own.empty:
        return None
    largest = own.sort_values("drop_l_s", ascending=False, na_position="last", kind="stable")
    return {str(name): value for name, value in largest.iloc[0].items()}


def _drop(repairs: pd.DataFrame, checks: pd.DataFrame) -> float:
    told = [_check(row, checks) for _, row in repairs.iterrows()]
    drops = [float(one["drop_l_s"]) for one in told if one and not missing(one["drop_l_s"])]
    return max(sum(drops), 0.0)


def _found_on(repair: Any, surveys: pd.DataFrame, began: Any) -> tuple[pd.Timestamp, bool]:
    """When a crew stood at the leak, and whether that is on record; else the day it was mended."""
    earliest = repair["first"] - pd.Timedelta(days=FOUND_BEFORE_D)
    if not missing(began):
        earliest = max(earliest, pd.Timestamp(began))
    dates = pd.to_datetime(surveys["date"])
    here = surveys["found"].astype(bool) & (surveys["pipe_id"] == repair["pipe_id"])
    days = dates[here & (dates >= earliest) & (dates <= repair["first"])]
    return (repair["first"], False) if days.empty else (days.min(), True)


def _times(
    event: dict[str, Any], found: pd.Timestamp, repaired: pd.Timestamp, on_record: bool
) -> dict[str, Any]:
    start = pd.Timestamp(event["start"])
    detected = start if missing(event["detected"]) else pd.Timestamp(event["detected"])
    aware = min(detected, found)
    times: dict[str, Any] = {
        "started": start,
        "detected": detected,
        "awareness_d": float(max((aware - start).days, 0)),
    }
    if on_record:
        times["location_d"] = float((found - aware).days)
        times["repair_d"] = float((repaired - found).days)
    return times | {f"run_d{end}": event[f"run_d{end}"] for end in _ESTIMATES}


def _water(event: dict[str, Any]) -> dict[str, Any]:
    return {
        f"{ours}{end}": event[f"{theirs}{end}"]
        for ours, theirs in (("volume_m3", "volume_m3"), ("water_currency", "cost_currency"))
        for end in _ESTIMATES
    }


def _share_water(rows: list[dict[str, Any]]) -> None:
    """Let leaks of one event share its water by what each repair took off the flow."""
    by_event: dict[str, list[dict[str, Any]]] = {}
    for row in rows:
        if row["event_id"]:
            by_event.setdefault(row["event_id"], []).append(row)
    for own in by_event.values():
        total = sum(row["_drop"] for row in own)
        for row in own:
            share = row["_drop"] / total if total > 0 else 1.0 / len(own)
            for name in ("volume_m3", "water_currency"):
                row |= {f"{name}{end}": row[f"{name}{end}"] * share for end in _ESTIMATES}


def _found(surveys: pd.DataFrame, repairs: pd.DataFrame, where: Where) -> Iterator[dict[str, Any]]:
    """What a survey found and nobody has mended yet: once a pipe, by its first day."""
    found = surveys[surveys["found"].astype(bool) & surveys["date"].notna()]
    for pipe, own in found.sort_values("date", kind="stable").groupby("pipe_id", sort=True):
        mended = repairs.loc[repairs["pipe_id"] == pipe, ["first", "repaired"]]
        last = mended["repaired"].max()
        left = own if pd.isna(last) else own[own["date"] > last]
        if left.empty:
            continue
        when = left["date"].iloc[0]
        yield {
            "leak_id": f"L-{pipe}-{day(when)}",
            "found": when,
            "place_id": str(pipe),
            "cell_id": where.cell.get(str(pipe), ""),
            "kind": "not_told",
            "state": "found",
            "repairs_count": 0,
            "event_id": "",
        }


def _recorded(
    breaks: pd.DataFrame, repairs: pd.DataFrame, where: Where
) -> Iterator[dict[str, Any]]:
    """Breaks on record that no repair belongs to."""
    dated = breaks.dropna(subset=["date", "pipe_id"])
    for row in dated[~_same_leak(dated, repairs)].to_dict("records"):
        pipe, when = str(row["pipe_id"]), pd.Timestamp(row["date"])
        yield {
            "leak_id": f"B-{pipe}-{day(when)}",
            "found": when,
            "place_id": pipe,
            "cell_id": where.cell.get(pipe, ""),
            "kind": row["kind"],
            "state": "recorded",
            "repairs_count": 0,
            "event_id": "",
        }


def _unfound(events: pd.DataFrame, mended: set[str]) -> Iterator[dict[str, Any]]:
    """Leaks that meters alone told of: no repair ended or eased them."""
    leaks = events[events["kind"].isin(_LEAK_KINDS) & (events["state"] != "explained")]
    for event in leaks.to_dict("records"):
        if event["event_id"] in mended:
            continue
        nothing: dict[str, Any] = {
            "leak_id": event["event_id"],
            "place_id": event["place_id"],
            "cell_id": event["cell_id"],
            "kind": "indoors" if event["place_kind"] == "building" else "not_told",
            "state": "running" if event["state"] == "open" else "ended",
            "event_id": event["event_id"],
            "started": event["start"],
            "detected": event["detected"],
            "repairs_count": 0,
        }
        size = {f"before_l_s{end}": event[f"size_l_s{end}"] for end in _ESTIMATES}
        run = {f"run_d{end}": event[f"run_d{end}"] for end in _ESTIMATES}
        yield nothing | size | run | _water(event)
