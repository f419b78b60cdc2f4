"""Meters that the meters beside them contradict: nobody is to be sent for a leak because of one."""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import Any

import pandas as pd

from district.render.popups import zone_titles
from district.results import DistrictReport
from district.schema.reconciled import DISTRICT_ROW
from district.words import brief, day, listed, missing, places, plural, rounded

SIDES = ("upstream_cell_id", "downstream_cell_id")
NAMED = 3
"""Meters named on the first screen; the section below has all."""


@dataclass(frozen=True)
class Disagreeing:
    """What the section on meters shows."""

    off: tuple[dict[str, Any], ...]
    """Rows of METER_CHECKS that are off, and `between` and `amount` in words."""
    backwards: bool
    """A flow of theirs runs against the direction of its meter."""
    without: tuple[dict[str, Any], ...]
    """Rows of WITHOUT_METER."""
    zones: tuple[str, ...]
    """What is wrong between zones though no meter is, a sentence each."""
    agreeing: str
    unchecked: tuple[str, ...]
    """Meters that cannot be checked, and why."""
    together: str
    """The test of all zones together, '' where there was none."""


def disagreeing(report: DistrictReport) -> Disagreeing:
    """Everything said of the meters against each other."""
    balance = report.balance
    checks, zones = balance.meter_checks, balance.zone_checks
    names = zone_titles(balance.zones)
    off = checks[checks["verdict"] == "off"]
    agreed = checks.loc[checks["verdict"] == "agrees", "meter_id"]
    left = checks[checks["verdict"] == "cannot_be_checked"]
    apart = zones[
        zones["verdict"].isin(("unmetered_flow", "does_not_close"))
        & (zones["cell_id"] != DISTRICT_ROW)
    ]
    # Water between two zones is told of both in the same words.
    said: dict[str, list[str]] = {}
    for row in apart.itertuples():
        said.setdefault(str(row.reason), []).append(names.get(str(row.cell_id), str(row.cell_id)))
    return Disagreeing(
        off=tuple(
            {
                **row,
                "between": between(row, names),
                "amount": amount(row),
                "reason": zones_named(str(row["reason"]), balance.zones),
            }
            for row in map(dict, (r for _, r in off.iterrows()))
        ),
        backwards=bool((off["flow_m3_d"] < 0).any()),
        without=tuple(dict(row) for _, row in balance.without_meter.iterrows()),
        zones=tuple(
            f"{listed(cells)}: {zones_named(reason, balance.zones)}"
            for reason, cells in said.items()
        ),
        agreeing=_agreeing(list(agreed), some_off=len(off) > 0),
        unchecked=tuple(
            f"{places('Meter', part['meter_id'])} cannot be checked. {reason}."
            for reason, part in left.groupby("reason", sort=False)
        ),
        together=_together(zones),
    )


def notice(report: DistrictReport) -> str:
    """What the first screen says of meters that are off, '' where none is."""
    checks = report.balance.meter_checks
    off = checks[checks["verdict"] == "off"]
    names = zone_titles(report.balance.zones)
    told = [
        f"Meter {row['meter_id']} ({between(row, names)}) seems to read {amount(row)}"
        + ("" if missing(row["since"]) else f", since {day(row['since'])}")
        for _, row in off.head(NAMED).iterrows()
    ]
    if not told:
        return ""
    more = f"; {plural(len(off) - NAMED, 'more meter')} below" if len(off) > NAMED else ""
    return (
        f"{'; '.join(told)}{more}. Have it checked, and whether water passes between these zones "
        "unmetered. Send nobody to look for a leak because of it: what one zone seems to gain, the "
        "other seems to lose."
    )


def checks_said(report: DistrictReport) -> dict[str, str]:
    """Zone meter -> what the meters beside it say of it, in a few words."""
    said = {}
    for _, row in report.balance.meter_checks.iterrows():
        since = "" if missing(row["since"]) else f", since {day(row['since'])}"
        said[str(row["meter_id"])] = {
            "agrees": "agrees",
            "off": f"seems to read {amount(row)}{since}: check it before any leak",
        }.get(str(row["verdict"]), "cannot be checked")
    return said


def amount(row: Any) -> str:
    """How far a meter is off, '17 % too little (14 to 20)'."""
    share, low, high = (row[f"off_share{end}"] for end in ("", "_low", "_high"))
    if missing(share):
        return "wrongly"
    side = "much" if share > 0 else "little"
    least, most = (low, high) if share > 0 else (-high, -low)
    middle, lower, upper = rounded(abs(share), least, most, "off_share")
    limits = f" ({lower} to {upper})" if lower else ""
    return f"{middle}\u00a0% too {side}{limits}"


def zones_named(reason: str, zones: pd.DataFrame) -> str:
    """Why, as a sentence that names zones as people do: 'zone V2' is said as 'Mill Lane (V2)'.

    `zones` has cell_id and name.
    """
    said = f"{reason.rstrip('.')}."
    names = zone_titles(zones)
    for cell in sorted(names, key=len, reverse=True):
        said = names[cell].join(re.split(rf"\bzone {re.escape(cell)}(?![\w(-])", said))
    return said


def between(row: Any, names: dict[str, str]) -> str:
    """The zones on the two sides of a meter."""
    up, down = ("" if missing(row[c]) else names.get(str(row[c]), str(row[c])) for c in SIDES)
    if up and down:
        return f"between {up} and {down}"
    return f"into {down}" if down else f"out of {up}" if up else "no zone beside it"


def _agreeing(meters: list[str], *, some_off: bool) -> str:
    if not meters:
        return ""
    if not some_off and len(meters) > 1:
        return (
            f"All {len(meters)} meters that can be checked agree with those beside them, within "
            "their limits: what is smaller than those may still be wrong."
        )
    if len(meters) == 1:
        return f"Meter {meters[0]} agrees with those beside it."
    return f"{len(meters)} meters agree with those beside them."


def _together(zones: pd.DataFrame) -> str:
    whole = zones[zones["cell_id"] == DISTRICT_ROW]
    if whole.empty:
        return ""
    row = whole.iloc[0]
    if missing(row["statistic_index"]) or row["verdict"] == "cannot_be_checked":
        return f"{row['reason']}."
    return (
        f"{row['reason']}: the figure of the test is {brief(row['statistic_index'])}, and chance "
        f"alone hardly passes {brief(row['critical_index'])}."
    )
