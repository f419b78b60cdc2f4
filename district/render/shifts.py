"""Zones whose metered figures are shifted: a meter or boundary moves water between two on paper."""

from __future__ import annotations

import pandas as pd

from district.results import DistrictReport
from district.schema.event_tables import MOVED_KINDS
from district.words import day, figure, missing


def shifted_zones(events: pd.DataFrame) -> dict[str, str]:
    """Zone -> words for its figures, of both zones of each open change of meter or boundary.

    Parameters: `events` table EVENTS. The zone whose flow rose shows too much by the size of the
    change, the other too little. Several changes of a zone are told by the latest.
    """
    return {
        cell_id: f"Since {since} the night flow shows {shift}: a meter or boundary shifts it, "
        "and all that rests on it. See the events."
        for cell_id, (since, shift) in shifts(events).items()
    }


def shifts(events: pd.DataFrame) -> dict[str, tuple[str, str]]:
    """Zone -> the day since, and how much too much or too little its night flow shows, in words.

    Parameters: `events` table EVENTS.
    """
    found: dict[str, tuple[str, str]] = {}
    moved = events[(events["kind"].isin(MOVED_KINDS)) & (events["state"] == "open")]
    for row in moved.itertuples():
        size = figure(row.size_l_s, row.size_l_s_low, row.size_l_s_high, "size_l_s")
        for cell_id, side in ((row.cell_id, "much"), (row.other_cell_id, "little")):
            if not missing(cell_id):
                found.setdefault(str(cell_id), (day(row.start), f"{size} too {side}"))
    return found


def accounted_for(report: DistrictReport) -> frozenset[str]:
    """Zones whose excess a meter or boundary makes: it gives them too much, and without that
    nothing is left to search. A crew would walk there for nothing."""
    events = report.events.events
    moved = events[(events["kind"].isin(MOVED_KINDS)) & (events["state"] == "open")]
    return frozenset(map(str, moved["cell_id"])) - set(report.location.search_sets["cell_id"])
