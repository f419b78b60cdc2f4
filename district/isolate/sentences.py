"""The plan in plain sentences, in the order in which a crew needs them."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

import pandas as pd

from district.words import brief, listed, missing, plural, whole

_NAMED = 12
"""Critical users and valves named in one sentence: these are not left to a count lightly."""
_WHY = {
    "medical": "medical use",
    "fire": "fire supply",
    "process": "process use",
    "critical": "critical",
}


def sentences(
    target: str,
    *,
    valves: pd.DataFrame,
    areas: pd.DataFrame,
    users: pd.DataFrame,
    failures: pd.DataFrame,
    sources: Sequence[str],
    stuck: Sequence[str],
    was_dry: bool,
) -> tuple[str, ...]:
    """Tables PLAN_VALVES, PLAN_AREAS, PLAN_USERS and PLAN_FAILURES in words.

    `target` says what is to be dry, `stuck` which valves do not close; `was_dry`: on the map no
    source reaches it.
    """
    by_action = {a: valves["valve_id"][valves["action"] == a].tolist() for a in
                 ("shut", "keep_shut", "may_stay_open")}  # fmt: skip
    idle = by_action["may_stay_open"]
    said = [
        _critical(users),
        *_valves(target, by_action["shut"], stuck, was_dry=was_dry, idle=idle),
    ]
    if sources:
        said.append(
            f"No valve stands between the stretch and source {listed(sources, shown=_NAMED)}: shut "
            "it at its own works as well."
        )
    if by_action["keep_shut"]:
        names = listed(by_action["keep_shut"], shown=_NAMED)
        said.append(f"Shut on the map, to be checked and kept shut: {names}.")
    if idle and not was_dry:
        names = listed(idle, shown=_NAMED)
        said.append(f"May stay open, as both sides are without water anyway: {names}.")
    said += [_area(row) for row in areas.to_dict("records")]
    said += failures["said"].tolist()
    said.append(
        "The plan rests on the map: a valve that stands otherwise than drawn, or a pipe that is "
        "not on it, changes what is dry. Prove it on the spot."
    )
    return tuple(s for s in said if s)


def failure_sentence(row: Mapping[str, Any]) -> str:
    """A row of table PLAN_FAILURES in words.

    >>> failure_sentence({"valve_id": "V12", "also_shut": "V9, V31", "sources": "",
    ...     "no_longer": "", "more_properties_count": 40, "more_length_m": 310.0,
    ...     "more_users": ""})
    'If V12 does not close: also shut V9, V31; 40 properties more without water (310 m more).'
    """
    steps = [f"also shut {row['also_shut']}"] if row["also_shut"] else []
    if row["sources"]:
        steps.append(f"shut source {row['sources']} at its own works")
    if not steps:
        steps.append("no other valve is needed")
    lost = plural(int(row["more_properties_count"]), "property", "properties")
    more = f"{lost} more without water ({brief(row['more_length_m'])} m more)"
    if row["more_length_m"] == 0:
        more = "nobody more is without water"
    users = f", among them {row['more_users']}" if row["more_users"] else ""
    opened = f"; {row['no_longer']} may be opened again" if row["no_longer"] else ""
    return f"If {row['valve_id']} does not close: {', '.join(steps)}; {more}{users}{opened}."


def _critical(users: pd.DataFrame) -> str:
    """Critical users first, each by name."""
    named = users[users["kind"] != "other"]
    if named.empty:
        return ""
    each = []
    for row in named.head(_NAMED).to_dict("records"):
        building = f" of {row['building_id']}" if row["building_id"] else ""
        also = f", which {row['also_fed_by']} still feeds" if row["also_fed_by"] else ""
        doubt = "" if row["use_class"] in ("household", row["kind"]) else f", {row['use_class']}"
        each.append(f"{row['connection_id']}{building} ({_WHY[row['kind']]}{doubt}{also})")
    beyond = len(named) - len(each)
    more = f" and {whole(beyond)} more" if beyond else ""
    return f"Tell and supply first: {'; '.join(each)}{more}."


def _valves(
    target: str,
    shut: Sequence[str],
    stuck: Sequence[str],
    *,
    was_dry: bool,
    idle: Sequence[str],
) -> list[str]:
    said = []
    if stuck:
        said.append(f"Taken as not closing: {listed(stuck, shown=_NAMED)}.")
    if was_dry:
        around = f"shut the valves around it, {listed(idle, shown=_NAMED)}, and " if idle else ""
        said.append(
            f"On the map no source reaches {target}. If water runs there, the map is wrong: "
            f"{around}find out where it comes from."
        )
    elif shut:
        said.append(f"To make {target} dry, shut in this order: {', '.join(shut)}.")
    else:
        said.append(f"No valve on the map parts {target} from what feeds it.")
    return said


def _area(row: Mapping[str, Any]) -> str:
    size = (
        f"{brief(row['length_m'])} m of pipe, "
        f"{plural(int(row['connections_count']), 'connection')}, "
        f"{plural(int(row['properties_count']), 'property', 'properties')}"
    )
    critical = int(row["critical_count"])
    if critical:
        size += f", {plural(critical, 'critical user')}"
    tank = "" if missing(row["tanks"]) else (
        f" Tank {row['tanks']} stands there: water runs from it until it is shut or empty."
    )  # fmt: skip
    if row["kind"] == "shut_off":
        return f"Shut off: {size}.{tank}"
    if row["kind"] == "doubtful":
        return (
            f"Perhaps without water (area {row['area_id']}): {size}. It is fed only if water may "
            f"pass {row['through']} that way, which the map does not tell."
        )
    feed = "" if missing(row["may_feed"]) else (
        f" {row['may_feed']}, shut now, would feed it if opened: pressure, zone and water quality "
        "have to allow that."
    )  # fmt: skip
    return f"Cut off as well, unintended (area {row['area_id']}): {size}.{tank}{feed}"
