"""A planned step test in plain sentences, in the order in which a crew needs them."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

import pandas as pd

from district.words import brief, figure, listed, missing, percent, plural

_NAMED = 12


def action_sentence(row: Mapping[str, Any]) -> str:
    """A row of table STEP_PLAN in words.

    >>> action_sentence({"action": "step", "valve_id": "V7", "beside": "", "section_id": "2",
    ...     "local_time": "02:15"})
    '02:15 shut V7 slowly (section 2); read the inflow once it has settled.'
    """
    at, valve = row["local_time"], row["valve_id"]
    beside = "" if missing(row["beside"]) else f" (or {row['beside']} beside it)"
    if row["action"] == "prepare":
        return f"{at} shut {valve}{beside} slowly, so that a section is fed one way; nobody is dry."
    if row["action"] == "read":
        return f"{at} let the flow settle, then read the inflow before any section is shut."
    if row["action"] == "step":
        section = row["section_id"]
        return (
            f"{at} shut {valve}{beside} slowly (section {section}); read the inflow once it has "
            "settled."
        )
    what = f"section {row['section_id']}" if row["section_id"] else "shut in preparation"
    return f"{at} open {valve}{beside} slowly with the same turns ({what})."


def sentences(
    zone: str,
    *,
    plan: pd.DataFrame,
    sections: pd.DataFrame,
    walk_before_m: tuple[float, float, float],
    walk_after_m: tuple[float, float, float],
    flow: tuple[float, float, float],
    proven: bool,
    kept: Sequence[str],
    reading: Sequence[str],
    doubtful: Sequence[str],
) -> tuple[str, ...]:
    """Tables STEP_PLAN and STEP_PLAN_SECTIONS in words; `reading`: how the inflow is read, `kept`:
    what is not cut off and why, `doubtful`: connections whose water is not certain."""
    steps = sections[sections["section_id"] != "0"]
    if steps.empty:
        return (
            f"No step is of use in zone {zone}: what valves can shut off without taking water from "
            "those who must keep it does not shorten the search.",
            *kept,
        )
    prepare = plan.loc[plan["action"] == "prepare", "valve_id"].tolist()
    # A size that was set, not estimated, has no limits.
    size = figure(*flow, "flow_l_s") if flow[1] < flow[2] else figure(flow[0], name="flow_l_s")
    said = [
        f"{plural(len(steps), 'step')} in zone {zone}: a leak of {size} is then reached after "
        f"{_walked(walk_after_m)} of listening on average, instead of {_walked(walk_before_m)}, "
        "the likeliest pipe first."
    ]
    if prepare:
        said.append(
            f"First shut {listed(prepare, shown=_NAMED)}: water then reaches each section by one "
            "valve alone, and nobody is dry yet."
        )
    said.append(f"Then step by step, leaving each shut: {', '.join(steps['valve_id'])}.")
    said += [_section(row) for row in sections.to_dict("records")]
    said += list(kept)
    if doubtful:
        said.append(
            f"In doubt during the test: {listed(doubtful, shown=_NAMED)} would hang on a check or "
            "reducing valve alone, and the map does not tell which way it passes water. Try it, "
            "and tell them."
        )
    said += list(reading)
    said.append(
        "Open again in the reverse order, all of them; check each against this list before the "
        "crew leaves."
    )
    best = (
        "No other choice of so many valves leaves less to listen to."
        if proven
        else "The zone has loops: the plan is the best of many that were tried."
    )
    said.append(best)
    return tuple(said)


def _about(share: float) -> str:
    return "less than 1 %" if share < 0.01 else percent(share, decimals=0)


def _walked(walk_m: tuple[float, float, float]) -> str:
    middle, low, high = (brief(m) for m in walk_m)
    return f"{middle} m ({low} to {high})"


def _section(row: Mapping[str, Any]) -> str:
    with_leak, without = (
        figure(row[name], row[f"{name}_low"], row[f"{name}_high"], name)
        for name in ("drop_with_l_s", "drop_without_l_s")
    )
    size = (
        f"{brief(row['length_m'])} m, "
        f"{plural(int(row['properties_count']), 'property', 'properties')}, "
        f"{percent(row['probability_share'], decimals=0)} likely"
    )
    weak = "" if row["shows"] else (
        " Their limits overlap, so that one reading may not tell: read it longer or twice (taken "
        f"at its middle size the leak is mistaken in {_about(row['wrong_share'])} of cases)."
    )  # fmt: skip
    if row["section_id"] == "0":
        return (
            f"What stays open ({size}): {with_leak} left at the end if the leak is in it, "
            f"{without} if not.{weak}"
        )
    return (
        f"Section {row['section_id']} behind {row['valve_id']} ({size}, dry {brief(row['dry_h'])} "
        f"h): the inflow falls by {with_leak} if the leak is in it, by {without} if not.{weak}"
    )
