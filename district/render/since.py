"""Events as people are told of them: what to act on first, and all the others."""

from __future__ import annotations

from typing import Any

import pandas as pd

from district.render.explain import EVENT_WORDS, SUPPORT_WORDS
from district.render.named_places import Place, named_places
from district.render.popups import estimate
from district.render.templates import row_dicts
from district.results import DistrictReport
from district.words import EMPTY, day, missing, percent, plural, true, whole

EVENTS = 15
"""Events to act on shown unfolded."""
OTHERS = 100
"""Other events on the page; the workbook and the tables have all."""
IN_POPUP = 4
"""Events told of where the map is clicked."""
_LEAST_SHARE = 0.005  # less is shown as 0 %


def acting(events: pd.DataFrame) -> pd.DataFrame:
    """Rows of EVENTS worth acting on, in the order to act: by `rank`, the unranked by size."""
    chosen: Any = events[events["act"].map(true).astype(bool)]
    return chosen.sort_values(
        ["rank", "size_l_s"], ascending=[True, False], kind="stable", na_position="last"
    )


def since_when(report: DistrictReport) -> dict[str, Any]:
    """The events of the report: `acting` in order, `others` (those that stand open first, then by
    start, the newest first), and how many others the page leaves out."""
    every = report.events.events
    first = acting(every)
    rest = every[~every["event_id"].isin(first["event_id"])]
    rest = rest.assign(_over=rest["state"] != "open").sort_values(
        ["_over", "start"], ascending=[True, False], kind="stable"
    )
    causes = _causes(report.events.causes)
    where = named_places(report)
    return {
        "acting": [_told(row, where, causes) for row in row_dicts(first)],
        "others": [_told(row, where, causes) for row in row_dicts(rest.head(OTHERS))],
        "left_out": max(len(rest) - OTHERS, 0),
        "unfolded": EVENTS,
    }


def what_words(event: Any) -> str:
    """What an event likely is, with its probability: 'new leak, 92 %'."""
    what = EVENT_WORDS.get(str(event["kind"]), str(event["kind"]))
    share = event.get("kind_share")
    return what if missing(share) else f"{what}, {percent(float(share), decimals=0)}"


def started(event: Any) -> str:
    """Since when, with the limits where they differ."""
    low, high = event.get("since_first"), event.get("since_last")
    if missing(low) or missing(high) or low == high:
        return day(event["start"])
    return f"{day(event['start'])} ({day(low)} to {day(high)})"


def events_of_places(report: DistrictReport) -> dict[tuple[str, str], list[str]]:
    """(place_kind, place_id), and ('cell', cell_id) for all within a zone -> its open events as
    sentences for the map, the first to act on first."""
    every = report.events.events
    opened: Any = every[every["state"] == "open"]
    ordered = opened.sort_values(["rank", "start"], ascending=[True, False], kind="stable")
    places = named_places(report)
    told: dict[tuple[str, str], list[str]] = {}
    for row in row_dicts(ordered):
        own = (str(row["place_kind"]), str(row["place_id"]))
        said = _sentence(row)
        told.setdefault(own, []).append(said)
        if not missing(row["cell_id"]):
            where = "" if own[0] == "zone" else f"{places[own].whole()}: "
            told.setdefault(("cell", str(row["cell_id"])), []).append(f"{where}{said}")
    return {key: _bounded(said) for key, said in told.items()}


def _bounded(said: list[str]) -> list[str]:
    more = len(said) - IN_POPUP
    return said if more <= 0 else [*said[:IN_POPUP], f"and {more} more, see the report"]


def _sentence(row: dict[str, Any]) -> str:
    size = estimate(row, "size_l_s")
    flow = "" if size == EMPTY else f", {size}"
    return f"{what_words(row)}, since {started(row)}{flow}"


def _causes(table: pd.DataFrame) -> dict[str, list[dict[str, Any]]]:
    ordered = table.sort_values("probability_share", ascending=False, kind="stable")
    return {str(key): row_dicts(own) for key, own in ordered.groupby("event_id", sort=False)}


def _told(
    row: dict[str, Any],
    places: dict[tuple[str, str], Place],
    causes: dict[str, list[dict[str, Any]]],
) -> dict[str, Any]:
    place = places[str(row["place_kind"]), str(row["place_id"])]
    return {
        **row,
        "name": place.name,
        "beside": place.beside(),
        "what": what_words(row),
        "stands": _stands(row),
        "lasted": _lasted(row),
        "told_by": SUPPORT_WORDS.get(str(row["support"]), ""),
        **_weighed(causes.get(str(row["event_id"]), [])),
    }


def _weighed(causes: list[dict[str, Any]]) -> dict[str, Any]:
    """The causes worth reading, and the words of those that are all but ruled out."""
    known = [
        {**c, "words": EVENT_WORDS.get(str(c["kind"]), str(c["kind"]))}
        for c in causes
        if not missing(c["probability_share"])
    ]
    likely = [c for c in known if c["probability_share"] >= _LEAST_SHARE]
    return {
        "causes": [
            {**c, "share": percent(float(c["probability_share"]), decimals=0)} for c in likely
        ],
        "unlikely": "; ".join(c["words"] for c in known if c["probability_share"] < _LEAST_SHARE),
    }


def _lasted(row: dict[str, Any]) -> str:
    """How many days an event has run, with its limits where they differ by a day at least."""
    if missing(row["run_d"]):
        return ""
    days = plural(round(float(row["run_d"])), "day")
    ends = [row["run_d_low"], row["run_d_high"]]
    if any(missing(e) for e in ends) or round(ends[0]) == round(ends[1]):
        return days
    return f"{days} ({whole(round(ends[0]))} to {whole(round(ends[1]))})"


def _stands(row: dict[str, Any]) -> str:
    """How an event stands: what became of it, and when it ended."""
    if row["state"] == "open":
        return "still runs"
    until = "" if missing(row["end"]) else f", ended {day(row['end'])}"
    return f"{row['state']}{until}" if row["state"] != "ended" else until.removeprefix(", ")
