"""The first screen of the report: how much, where, since when, which stretches."""

from __future__ import annotations

from dataclasses import dataclass

import pandas as pd

from district.render.named_places import named_places
from district.render.popups import estimate, zone_title, zone_titles
from district.render.shifts import accounted_for, shifts
from district.render.since import acting, what_words
from district.render.visits import running_cost
from district.results import DistrictReport
from district.schema.event_tables import MOVED_KINDS
from district.words import EMPTY, day, figure, missing, percent, plural


@dataclass(frozen=True)
class Answer:
    """A question, its answer in large print, and what stands behind it."""

    question: str
    answer: str
    detail: str


def answers(report: DistrictReport) -> tuple[Answer, ...]:
    """The four questions a manager asks first."""
    return (_how_much(report), _where(report), _since_when(report), _which(report))


def total(zones: pd.DataFrame, name: str) -> tuple[float | None, float | None, float | None]:
    """Sum of a figure over the zones. The limits are summed too, which is cautious: errors the
    zones do not share would partly cancel.
    """
    known = zones.dropna(subset=[name])
    if known.empty:
        return None, None, None
    sums = [float(known[f"{name}{end}"].sum(skipna=False)) for end in ("", "_low", "_high")]
    return sums[0], sums[1], sums[2]


def _how_much(report: DistrictReport) -> Answer:
    zones = report.balance.zones
    volume = figure(*total(zones, "leakage_m3_d"), "leakage_m3_d")
    if volume == "-":
        return Answer(
            "How much leaks?", "Not known", "No zone has an inflow that could be balanced."
        )
    share = _share(zones)
    nights = int(zones["nights_count"].max()) if zones["nights_count"].notna().any() else 0
    inflow = f", {share} of what enters" if share else ""
    excess = figure(*total(zones, "excess_l_s"), "excess_l_s")
    return Answer(
        "How much leaks?",
        volume,
        f"All zones together{inflow}, over the last {plural(nights, 'night')} with readings. "
        f"Excess over the expected background: {excess}{_cost(report)}.",
    )


def _cost(report: DistrictReport) -> str:
    cost = running_cost(report)
    return f", costing {cost} a day while it runs" if cost else ""


def _share(zones: pd.DataFrame) -> str:
    known = zones.dropna(subset=["leakage_m3_d", "inflow_m3_d"])
    inflow = float(known["inflow_m3_d"].sum())
    if not inflow > 0:
        return ""
    return f"about {percent(float(known['leakage_m3_d'].sum()) / inflow, decimals=0)}"


def _where(report: DistrictReport) -> Answer:
    worst = report.balance.zones.dropna(subset=["excess_l_s"])
    # Where a meter or boundary makes the excess, nobody is to look for a leak.
    apparent = worst["cell_id"].isin(accounted_for(report))
    clear = worst[(worst["excess_l_s_low"] > 0) & ~apparent]
    if clear.empty:
        return Answer(
            "Where?",
            "No zone stands out",
            "Every zone's excess could be nothing, within its limits.",
        )
    first = clear.iloc[0]
    others = [zone_title(row) for _, row in clear.iloc[1:4].iterrows()]
    more = f" Next: {', '.join(others)}." if others else " No other zone is clearly above."
    _, shift = shifts(report.events.events).get(str(first["cell_id"]), ("", ""))
    doubt = f" A meter or boundary makes that {shift}: check it too." if shift else ""
    return Answer(
        "Where?",
        zone_title(first),
        f"Excess {estimate(first, 'excess_l_s')} at night.{doubt}{more}",
    )


def _since_when(report: DistrictReport) -> Answer:
    every = acting(report.events.events)
    # What a meter or boundary gives one zone it takes from another: no leak began then.
    shifts = every["kind"].isin(MOVED_KINDS)
    open_now, moved = every[~shifts], int(shifts.sum())
    no_leak = f" {plural(moved, 'event')} of a meter or boundary to check." if moved else ""
    if open_now.empty:
        calm = "" if moved else "No event of the period calls for action now."
        return Answer("Since when?", "No new leak", f"{calm}{no_leak}".strip())
    first = open_now.iloc[0]
    low, high = first["since_first"], first["since_last"]
    sure = missing(low) or missing(high) or low == high
    window = "" if sure else f", most likely begun between {day(low)} and {day(high)}"
    size = estimate(first, "size_l_s")
    flow = "" if size == EMPTY else f", {size}"
    place = named_places(report)[str(first["place_kind"]), str(first["place_id"])]
    rest = len(open_now) - 1
    more = f" {plural(rest, 'more event')} to act on." if rest else ""
    return Answer(
        "Since when?",
        day(first["start"]),
        f"First to act on: {place.name}, {what_words(first)}{flow}{window}.{more}{no_leak}",
    )


def _which(report: DistrictReport) -> Answer:
    sets, likely = report.location.search_sets, report.location.stretches
    if sets.empty or likely.empty:
        return Answer("Which stretches?", "Nothing to search", "No zone has an excess to look for.")
    top = likely.sort_values("rank").head(3)
    names = zone_titles(report.balance.zones)
    zones = dict.fromkeys(names.get(str(z), str(z)) for z in top["cell_id"])
    # Zones whose excess may be nothing are not worth a walk yet.
    clear = sets[sets["flow_l_s_low"] > 0]
    walk, mains = float(clear["set_km"].sum()), float(clear["mains_km"].sum())
    held = percent(float(clear["held_share"].min()), decimals=0) if len(clear) else ""
    said = f" Where the excess is clear, walk {figure(walk, name='set_km')} of "
    said += f"{figure(mains, name='mains_km')} of mains to pass each leak at {held} probability."
    return Answer(
        "Which stretches?",
        ", ".join(str(p) for p in top["stretch_id"]),
        f"First in order of search, in {', '.join(zones)}.{said if len(clear) else ''}",
    )
