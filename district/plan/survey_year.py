"""Which zones to survey in the coming year, and when: table SURVEY_YEAR.

The interval that costs least is that of table ECONOMICS (Lambert & Lalonde 2005, from memory).
"""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import date
from typing import Any

import numpy as np
import pandas as pd

from district.network import Network
from district.results import Basis
from district.schema.renewal_tables import SURVEY_YEAR
from district.settings import Settings
from district.words import brief, day, figure, natural_key, percent, plural, spelled

SOFT = ("pvc", "polyethylene", "grp", "unknown")
"""Materials listened to at the shorter distance, as leak noise does not carry far on them."""
_DAYS_MONTH = 365.25 / 12
_LONGEST_MONTHS = 1200.0
"""Later than in a hundred years no date is of use."""
_MOST = 0.5
_DISTRICT = "district"


@dataclass(frozen=True, eq=False)
class SurveyYear:
    """Table SURVEY_YEAR, and what it rests on."""

    table: pd.DataFrame
    basis: Basis = field(default_factory=Basis)


def survey_year(
    network: Network,
    economics: pd.DataFrame,
    surveys: pd.DataFrame,
    *,
    settings: Settings,
    first: date,
) -> SurveyYear:
    """When each zone is due for a survey, for the year from `first` on.

    Parameters: `economics` table ECONOMICS (the row of the whole district is passed over),
    `surveys` table SURVEYS; those after `first` are not yet made.

    A zone was last surveyed on the latest day since which more than half of its mains had been, by
    length; it is due one interval later, at once where that never was. All that is due by `first`
    comes at once, the best return first (`rank` of ECONOMICS); then the others by date. Where the
    rate of rise is not known or leakage does not rise, there is no interval: such a zone is due at
    once if its losses today surely pay for a survey, within a year as far as is known, and none was
    made in the last one; else it has no date, and says why. Hours are those on foot: the pace along
    the mains and the listening, without the way there. Ties by id; nothing is written to.
    """
    zones = economics[economics["cell_id"] != _DISTRICT].drop_duplicates("cell_id")
    mains = _mains(network, surveys, first=first, settings=settings)
    rows = [_row(zone, mains, settings=settings, first=first) for zone in zones.to_dict("records")]
    rows.sort(key=lambda row: _order(row, first))
    frame = pd.DataFrame(rows, columns=[*SURVEY_YEAR.names(), "return_rank"])
    frame["rank"] = np.arange(1, len(frame) + 1)
    for column in ("last_surveyed", "due"):
        frame[column] = pd.to_datetime(frame[column])
    table = frame[list(SURVEY_YEAR.names())]
    return SurveyYear(table, _basis(settings))


def _mains(
    network: Network, surveys: pd.DataFrame, *, first: date, settings: Settings
) -> pd.DataFrame:
    """By part of a main: zone, length, share of it searched when last, that day, hours on foot."""
    pipes = network.pipes.sort_index()
    length_m = pipes["length_m"].to_numpy(dtype=float)
    soft = pipes["material"].fillna("unknown").isin(SOFT).to_numpy()
    walk = settings.survey
    apart_m = np.where(soft, walk.listen_apart_plastic_m, walk.listen_apart_m)
    hours = length_m / 1000 / walk.search_km_h + length_m / apart_m * walk.listen_min / 60
    table = pd.DataFrame(
        {
            "cell_id": pipes["cell_id"].to_numpy(),
            "layer_pipe_id": pipes["layer_pipe_id"].to_numpy(),
            "length_m": length_m,
            "work_h": hours,
        }
    )
    of_pipe = table.groupby("layer_pipe_id")["length_m"].sum()
    made = surveys[surveys["date"].notna() & (surveys["date"] <= pd.Timestamp(first))]
    made = made[made["pipe_id"].isin(of_pipe.index)]
    whole_m = made["pipe_id"].map(of_pipe)
    stretch_m = (made["to_m"].fillna(whole_m) - made["from_m"].fillna(0.0)).abs()
    made = made.assign(share=(stretch_m / whole_m.clip(lower=1e-9)).clip(upper=1.0))
    # Stretches of one day are of one round.
    rounds = made.groupby(["pipe_id", "date"], as_index=False)["share"].sum()
    most = rounds[rounds["share"] > _MOST].groupby("pipe_id")["date"].max()
    last = pd.to_datetime(most).reindex(table["layer_pipe_id"])
    return table.assign(last=last.to_numpy())


def _row(
    zone: dict[str, Any], mains: pd.DataFrame, *, settings: Settings, first: date
) -> dict[str, Any]:
    own = mains[mains["cell_id"] == zone["cell_id"]]
    last = last_surveyed(own["last"], own["length_m"])
    months = float(zone["survey_interval_months"])
    start = pd.Timestamp(first)
    known = np.isfinite(months) and months > 0
    interval = pd.Timedelta(days=round(min(months, _LONGEST_MONTHS) * _DAYS_MONTH if known else 0))
    lately = last is not None and last > start - pd.DateOffset(years=1)
    pays = float(zone["return_index"]) > 1.0 and float(zone["return_index_low"]) > 0.0
    due = start if known or (pays and not lately) else None
    if known and last is not None:
        due = last + interval
    since = start - interval
    total_m = float(own["length_m"].sum())
    lately_m = float(own.loc[own["last"] >= since, "length_m"].sum()) if known else np.nan
    limits = {f"survey_interval_months{e}": zone[f"survey_interval_months{e}"]
              for e in ("", "_low", "_high")}  # fmt: skip
    row = {
        "cell_id": zone["cell_id"],
        "last_surveyed": last,
        "surveyed_share": lately_m / total_m if total_m > 0 else np.nan,
        **limits,
        "due": due,
        "surveys_count": surveys_due(due, interval, start=start),
        "mains_km": zone["mains_km"],
        "work_h": float(own["work_h"].sum()),
        "survey_currency": zone["survey_currency"],
        "return_rank": zone["rank"],
    }
    return row | {"said": _said(row, zone, settings, start)}


def surveys_due(due: pd.Timestamp | None, interval: pd.Timedelta, *, start: pd.Timestamp) -> int:
    """How many surveys fall due in the year from `start` on: the first at once if it is overdue,
    each next an interval later; one where there is no interval (0)."""
    left = start + pd.DateOffset(years=1) - max(due, start) if due is not None else None
    if left is None or left <= pd.Timedelta(0):
        return 0
    return 1 if interval <= pd.Timedelta(0) else 1 + int((left - pd.Timedelta(days=1)) // interval)


def year_said(table: pd.DataFrame, *, currency: str) -> str:
    """What the year's surveys are together, in a sentence; table SURVEY_YEAR."""
    due = table[table["surveys_count"] > 0]
    if due.empty:
        return ""
    count = due["surveys_count"].to_numpy(dtype=float)
    hours = brief(float(count @ due["work_h"].to_numpy(dtype=float)))
    cost = float(np.nansum(count * due["survey_currency"].to_numpy(dtype=float)))
    surveys = f"{plural(int(count.sum()), 'survey')} of {plural(len(due), 'zone')}"
    money = figure(float(f"{cost:.2g}"), name="survey_currency", currency=currency)
    return (
        f"Leak surveys of the year, by the intervals that cost least: {surveys}, some {hours} "
        f"hours on foot and {money}."
    )


def last_surveyed(last: pd.Series[Any], length_m: pd.Series[Any]) -> pd.Timestamp | None:
    """The latest day since which more than half of the length had been surveyed, None if never.

    `last` is the day each part was last surveyed, empty if never, `length_m` its length.
    """
    by_day = length_m.groupby(last).sum().sort_index(ascending=False)
    enough = by_day.cumsum() > _MOST * float(length_m.sum())
    return pd.Timestamp(enough.idxmax()) if enough.any() else None


def _order(row: dict[str, Any], first: date) -> tuple[Any, ...]:
    start = pd.Timestamp(first)
    name = natural_key(str(row["cell_id"]))
    rank = float(row["return_rank"])
    by_return = (np.isnan(rank), 0.0 if np.isnan(rank) else rank)
    if row["due"] is None:
        return (2, start, *by_return, name)
    if row["due"] <= start:
        return (0, start, *by_return, name)
    return (1, row["due"], *by_return, name)


def _said(
    row: dict[str, Any], zone: dict[str, Any], settings: Settings, start: pd.Timestamp
) -> str:
    statement = str(zone["statement"] or "").strip()
    months = float(row["survey_interval_months"])
    last, due = row["last_surveyed"], row["due"]
    told = "most of it was never surveyed" if last is None else (
        f"most of it was last surveyed on {day(last)}"
    )  # fmt: skip
    if not months > 0:
        why = _why_not(zone, settings)
        if due is None:
            return f"No date: {told}, and {why}. {statement}".strip()
        return f"Due now, once: {told}. {statement} When again is not told: {why}."
    # As in the table: no more digits than the limits support.
    limits = (row["survey_interval_months_low"], row["survey_interval_months_high"])
    costs_least = (
        f"the interval that costs least is {figure(months, *limits, 'survey_interval_months')}"
    )
    if due > start:
        share = percent(row["surveyed_share"], decimals=0)
        return f"Due on {day(due)}: {told}, {share} of it within the last interval; {costs_least}."
    when = f"Due since {day(due)}" if due < start else "Due now"
    return f"{when} by the calendar: {told}; {costs_least}. {statement}".strip()


def _why_not(zone: dict[str, Any], settings: Settings) -> str:
    """Why no interval is told."""
    rise = float(zone["rise_m3_d_year"])
    if np.isnan(rise):
        note = str(zone["rise_note"] or "").strip().rstrip(".").removeprefix("not known")
        return f"how fast its leakage rises is not known{note}"
    if not float(zone["survey_currency"]) > 0:
        return "a survey here has no cost, as there are no mains or no price for it"
    if not settings.costs.water_currency_m3 > 0:
        return "water costs nothing in the settings, so that no survey pays"
    return "its leakage does not rise on record, so that no interval pays"


def _basis(settings: Settings) -> Basis:
    walk = settings.survey
    soft = ", ".join(spelled(m) for m in SOFT[:-1])
    return Basis(
        assumptions=(
            "The interval between surveys that costs least: the root of 0.789 times the cost of a "
            "survey over the value of water times the rate of rise (Lambert & Lalonde 2005, from "
            "memory).",
            "A main counts as surveyed on a day if more than half of it was, whether a leak was "
            "found or not; by any method alike.",
            f"Hours on foot at {brief(walk.search_km_h)} km/h along the mains and "
            f"{brief(walk.listen_min)} minutes of listening each {brief(walk.listen_apart_m)} m "
            f"({brief(walk.listen_apart_plastic_m)} m on {soft} and unknown material); the way "
            "there and rests not counted.",
        ),
    )
