"""Zones marked because their figures are shifted."""

from __future__ import annotations

import pandas as pd

from district.render.shifts import shifted_zones


def test_both_zones_of_an_open_shift_are_marked() -> None:
    events = pd.DataFrame(
        {
            "kind": ["boundary", "boundary", "leak"],
            "state": ["open", "ended", "open"],
            "cell_id": ["A", "C", "E"],
            "other_cell_id": ["B", "D", ""],
            "start": pd.to_datetime(["2031-02-03", "2031-02-04", "2031-02-05"]),
            "size_l_s": [0.5689, 0.1, 0.1],
            "size_l_s_low": [0.54, 0.05, 0.05],
            "size_l_s_high": [0.60, 0.15, 0.15],
        }
    )
    size = "0.569\N{NO-BREAK SPACE}L/s (0.540 to 0.600)"
    rest = "a meter or boundary shifts it, and all that rests on it. See the events."
    assert shifted_zones(events) == {
        "A": f"Since 2031-02-03 the night flow shows {size} too much: {rest}",
        "B": f"Since 2031-02-03 the night flow shows {size} too little: {rest}",
    }
