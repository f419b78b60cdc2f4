"""Why works are on the list, in sentences to read out."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import pandas as pd

from district.words import brief, figure, listed, natural, places, plural, spelled

_WORTH_SAYING_M3_D = 1.0
_MANY_PEOPLE = 50.0
_UNNAMED = ("", "other")
"""Leakage and people below these are no reason to name. Assumptions."""


def dear_because(mains: pd.DataFrame, *, currency: str) -> str:
    """What a break of some mains costs and why, in a sentence; rows of RENEWAL_PIPES.

    The mean is by the breaks expected of each. Named are what lies above, critical users and many
    people without water, and leakage looked for that is likely there.
    """
    breaks = mains["breaks_per_year"].to_numpy(dtype=float)
    if breaks.sum() <= 0 or mains.empty:
        return ""
    # What is too low for one main is for all: the limits are those of the mean.
    amounts = (mains[f"break_currency{end}"].to_numpy(dtype=float) for end in ("", "_low", "_high"))
    middle, low, high = (float(amount @ breaks / breaks.sum()) for amount in amounts)
    mean = figure(middle, low, high, "currency", currency=currency)
    reasons = []
    above = natural(
        {
            k
            for told in mains["above"].fillna("")
            for k in str(told).split(", ")
            if k not in _UNNAMED
        }
    )
    if above:
        reasons.append(f"below {listed(f'a {kind}' for kind in above)}")
    critical = float(mains["dry_critical_count"].max())
    if critical >= 0.5:
        reasons.append(f"{plural(round(critical), 'critical user')} without water")
    people = float(mains["dry_people_count"].max())
    if people >= _MANY_PEOPLE:
        reasons.append(f"some {brief(people)} people without water")
    leak = float(mains["hidden_leak_m3_d"].sum())
    if leak >= _WORTH_SAYING_M3_D:
        reasons.append(f"{brief(leak)} m³/day of leakage looked for likely there now")
    told = f": {'; '.join(reasons)}" if reasons else ""
    return f"A break costs {mean}{told}."


def project_said(
    row: Mapping[str, Any], *, horizon_years: int, currency: str, dear: str = ""
) -> str:
    """A row of RENEWAL_PROJECTS in words: what is renewed, what breaks there, what that costs
    (`dear`, as `dear_because` has it), and what the works cost and save."""
    pipes = str(row["pipe_ids"]).split(", ")
    length = figure(row["length_m"], name="length_m")
    named = places("pipe", pipes)
    # A site without a street is called by its first pipe, which is named anyway.
    what = named[0].upper() + named[1:] if row["street"] in pipes else f"{row['street']}: {named}"
    stuff = listed(_material(m) for m in str(row["materials"]).split(", ") if m)
    of_what = f" of {stuff}" if stuff else ""
    seen = int(row["breaks_count"])
    on_record = f"{plural(seen, 'break')} {'is' if seen == 1 else 'are'}" if seen else "no break is"
    because = f" {dear}" if dear else ""
    times = figure(*_limits(row, "benefit_cost_index")) if row["cost_currency"] > 0 else ""
    back = f": {times} times the cost" if times else ""
    return (
        f"{what}, {length}{of_what}. There {on_record} on record, and "
        f"{figure(*_limits(row, 'breaks_per_year'))} a year are expected, at "
        f"{_money(row, 'risk_currency_year', currency)}.{because} The works cost "
        f"{_money(row, 'cost_currency', currency)} and save "
        f"{_money(row, 'benefit_currency', currency)} within {plural(horizon_years, 'year')}{back}."
    )


def _material(code: str) -> str:
    return "unknown material" if code == "unknown" else spelled(code)


def _limits(row: Mapping[str, Any], name: str) -> tuple[Any, Any, Any]:
    return row[name], row[f"{name}_low"], row[f"{name}_high"]


def _money(row: Mapping[str, Any], name: str, currency: str) -> str:
    return figure(*_limits(row, name), name, currency=currency)
