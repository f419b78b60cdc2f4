"""What the reconciliation says of each zone: night against day, and water that no meter sees."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np
import pandas as pd

from district.balance.closing import Closing
from district.balance.contest import Pairs
from district.balance.equations import Equations
from district.balance.limits import MEDIAN_FACTOR
from district.balance.meter_checks import odds
from district.balance.naming import Fault
from district.estimates import Estimate, from_deviation
from district.schema.reconciled import DISTRICT_ROW, ZONE_CHECKS
from district.words import brief, day, listed, plural


def zone_checks(
    known: Equations, closed: Closing, faults: Sequence[Fault], *, pairs: Pairs
) -> pd.DataFrame:
    """Table ZONE_CHECKS: the district's global test first, then each zone."""
    passing = {}
    for fault in faults:
        if fault.kind == "pair":
            passing[int(pairs.first[fault.at])] = fault, 1.0, int(pairs.second[fault.at])
            passing[int(pairs.second[fault.at])] = fault, -1.0, int(pairs.first[fault.at])
    rows = [_together(closed)]
    for cell, name in enumerate(known.cells):
        row: dict[str, Any] = {
            "cell_id": str(name),
            "other_cell_id": "",
            "since": pd.NaT,
            "statistic_index": float(closed.zone_index[cell]),
            "critical_index": closed.one_critical_index,
            "act": False,
        }
        unmetered = from_deviation(np.nan, np.nan)
        if cell in passing:
            fault, sign, other = passing[cell]
            unmetered = _passing(known, fault, sign)
            valves = pairs.valves[fault.at]
            row |= {
                "other_cell_id": str(known.cells[other]),
                "since": known.days[fault.first],
                "verdict": "unmetered_flow",
                "reason": _why(known, fault, cell, other, valves, float(unmetered.value)),
                "act": True,
            }
        else:
            row["verdict"], row["reason"] = _closes(closed, cell)
        parts = (
            ("leakage_l_s", from_deviation(
                closed.leakage_l_s[cell], closed.leakage_deviation_l_s[cell])),
            ("reconciled_leakage_l_s", from_deviation(
                closed.reconciled_leakage_l_s[cell],
                closed.reconciled_leakage_deviation_l_s[cell])),
            ("unmetered_l_s", unmetered),
        )  # fmt: skip
        for column, part in parts:
            row |= {column + s: float(p) for s, p in zip(("", "_low", "_high"), part, strict=True)}
        rows.append(row)
    frame = pd.DataFrame(rows).reindex(columns=list(ZONE_CHECKS.names()))
    frame["since"] = pd.to_datetime(frame["since"])
    return frame


def _together(closed: Closing) -> dict[str, Any]:
    count = plural(closed.freedom_count, "zone")
    if not closed.freedom_count:
        verdict, reason = "cannot_be_checked", "No zone has a week of both night and day"
    elif closed.statistic_index > closed.critical_index:
        verdict = "does_not_close"
        reason = (
            f"Night and day of {count} disagree by more than the meters' errors, allowances and "
            "night-to-day factors allow in 95 of 100 districts (chi-square test)"
        )
    else:
        verdict = "agrees"
        reason = f"Night and day of {count} agree within their limits (chi-square test)"
    return {
        "cell_id": DISTRICT_ROW,
        "other_cell_id": "",
        "since": pd.NaT,
        "statistic_index": closed.statistic_index,
        "critical_index": closed.critical_index,
        "verdict": verdict,
        "reason": reason,
        "act": False,
    }


def _passing(known: Equations, fault: Fault, sign: float) -> Estimate:
    """The unmetered flow by night, with the scatter of the nights since as its limits."""
    count = max(int(np.isfinite(known.night_l_s[fault.first :]).any(axis=1).sum()), 1)
    size = abs(fault.night_l_s) + abs(fault.day_l_s)
    deviation = size / np.sqrt(max(fault.statistic_index, 1.0)) * MEDIAN_FACTOR
    return from_deviation(sign * fault.night_l_s, deviation * np.sqrt(1 + 1 / count))


def _why(
    known: Equations, fault: Fault, cell: int, other: int, valves: Sequence[str], flow_l_s: float
) -> str:
    into, out_of = (cell, other) if flow_l_s >= 0 else (other, cell)
    check = (
        f"Check that {listed(valves)} {'is' if len(valves) == 1 else 'are'} shut"
        if valves
        else "Look for a valve or pipe the map does not show"
    )
    return (
        f"Since {day(known.days[fault.first])} about {brief(abs(flow_l_s))} L/s by night pass from "
        f"zone {known.cells[out_of]} to zone {known.cells[into]} and no meter sees them. {check}. "
        f"{odds(fault.margin_index)} against the next best explanation, {fault.runner_up}"
    )


def _closes(closed: Closing, cell: int) -> tuple[str, str]:
    statistic = closed.zone_index[cell]
    if not np.isfinite(statistic):
        return "cannot_be_checked", "Fewer than seven recent days with both night and day known"
    if statistic <= closed.one_critical_index:
        return "agrees", "Night and day agree within their limits"
    left = closed.residual_l_s[cell]
    return "does_not_close", (
        f"By day {brief(abs(left))} L/s {'more' if left > 0 else 'less'} flows in than use "
        "and the night's leakage explain: an allowance, the night-to-day factor or a meter is not "
        "as assumed"
    )
