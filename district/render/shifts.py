"""Zones whose metered figures are shifted: a meter or boundary moves water between two on paper."""

from __future__ import annotations

import pandas as pd

from district.words import day, missing


def shifted_zones(events: pd.DataFrame) -> dict[str, str]:
    """Zone -> words for its figures, of both zones of each open change of meter or boundary.

    Parameters: `events` table EVENTS.
    """
    found: dict[str, str] = {}
    moved = events[(events["kind"] == "meter_or_boundary") & (events["state"] == "open")]
    for row in moved.itertuples():
        for cell_id in (row.cell_id, row.other_cell_id):
            if not missing(cell_id):
                words = f"shifted by a meter or boundary since {day(row.start)}: see the events"
                found.setdefault(str(cell_id), words)
    return found
