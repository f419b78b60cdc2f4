"""Zones marked because their figures are shifted."""

from __future__ import annotations

import pandas as pd

from district.render.shifts import shifted_zones


def test_both_zones_of_an_open_shift_are_marked() -> None:
    events = pd.DataFrame(
        {
            "kind": ["meter_or_boundary", "meter_or_boundary", "leak"],
            "state": ["open", "ended", "open"],
            "cell_id": ["A", "C", "E"],
            "other_cell_id": ["B", "D", ""],
            "start": pd.to_datetime(["2031-02-03", "2031-02-04", "2031-02-05"]),
        }
    )
    words = "shifted by a meter or boundary since 2031-02-03: see the events"
    assert shifted_zones(events) == {"A": words, "B": words}
