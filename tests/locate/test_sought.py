"""What is looked for in each zone."""

from __future__ import annotations

from collections.abc import Callable
from datetime import date
from typing import Any

import numpy as np
import pandas as pd
import pytest

from district.locate.sought import sought_leaks, true_excess
from district.locate.spots import Sought

Make = Callable[..., Any]


def leaks(no_events: pd.DataFrame, *sizes: float, **changes: object) -> pd.DataFrame:
    row = {"place_kind": "zone", "place_id": "V1", "kind": "leak", "state": "open", **changes}
    rows = [
        {
            **row,
            "event_id": f"E{n}",
            "size_l_s": s,
            "size_l_s_low": s - 0.1,
            "size_l_s_high": s + 0.1,
        }
        for n, s in enumerate(sizes)
    ]
    return pd.DataFrame(rows).reindex(columns=no_events.columns)


def looked_for(zones: pd.DataFrame, events: pd.DataFrame) -> dict[str, Sought]:
    return {s.sought_id: s for s in sought_leaks(true_excess(zones, events), events)}


def test_the_excess_is_looked_for_where_it_is_above_nothing(
    zones_of: Make, no_events: pd.DataFrame
) -> None:
    zones = zones_of({"V1": (0.5, 0.1, 0.9), "V2": (0.5, -0.1, 1.1), "V3": (-0.3, -0.6, 0.1)})
    assert looked_for(zones, no_events) == {"V1": Sought("V1", "V1", "excess", 0.5, 0.1, 0.9)}
    excess = true_excess(zones, no_events)
    assert list(excess["flow_l_s"]) == [0.5, 0.5, -0.3]


def test_an_open_leak_is_looked_for_by_its_size_since_its_start(
    zones_of: Make, no_events: pd.DataFrame
) -> None:
    leak = leaks(
        no_events, 0.4, start=pd.Timestamp("2024-03-02"), start_low=pd.Timestamp("2024-03-01")
    )
    found = looked_for(zones_of({"V1": (0.6, 0.1, 1.1)}), leak)
    assert list(found) == ["E0"]
    assert (found["E0"].flow_l_s, found["E0"].start) == (0.4, date(2024, 3, 2))
    assert found["E0"].flow_l_s_high == pytest.approx(0.5)
    assert (found["E0"].start_low, found["E0"].start_high) == (date(2024, 3, 1), None)


def test_what_is_beyond_the_leaks_is_looked_for_where_it_is_clear(
    zones_of: Make, no_events: pd.DataFrame
) -> None:
    two = leaks(no_events, 0.4, 0.3)
    clear = looked_for(zones_of({"V1": (2.0, 1.0, 3.0)}), two)
    assert list(clear) == ["E0", "E1", "V1"]
    assert clear["V1"].flow_l_s == pytest.approx(1.3)
    assert clear["V1"].flow_l_s_low == pytest.approx(1.3 - np.sqrt(1.0 + 0.1**2 + 0.1**2))
    assert list(looked_for(zones_of({"V1": (1.2, 0.6, 1.8)}), two)) == ["E0", "E1"]


@pytest.mark.parametrize(
    "changes", [{"state": "ended"}, {"kind": "boundary"}, {"place_kind": "building"}]
)
def test_other_events_are_not_looked_for(
    zones_of: Make, no_events: pd.DataFrame, changes: dict[str, object]
) -> None:
    zones = zones_of({"V1": (0.2, -1.0, 1.4)})
    assert looked_for(zones, leaks(no_events, 0.4, **changes)) == {}


def test_a_leak_in_a_zone_without_a_row_is_still_looked_for(
    zones_of: Make, no_events: pd.DataFrame
) -> None:
    found = looked_for(zones_of({"V2": (0.2, -1.0, 1.4)}), leaks(no_events, 0.4))
    assert found["E0"].cell_id == "V1"


def test_what_a_meter_or_boundary_accounts_for_is_not_looked_for(
    zones_of: Make, no_events: pd.DataFrame
) -> None:
    moved = leaks(no_events, 0.5, kind="boundary")
    zones = zones_of({"V1": (0.55, 0.45, 0.65), "V2": (0.5, 0.4, 0.6)})
    assert list(looked_for(zones, moved)) == ["V2"]
    excess = true_excess(zones, moved)
    assert excess.loc["V1", "flow_l_s"] == pytest.approx(0.05)
    assert excess.loc["V1", "flow_l_s_high"] == pytest.approx(0.05 + 0.1 * 2**0.5)
    more = looked_for(zones_of({"V1": (1.55, 1.45, 1.65)}), moved)
    assert more["V1"].flow_l_s == pytest.approx(1.05)


def test_what_a_meter_or_boundary_hides_in_the_other_zone_is_looked_for(
    zones_of: Make, no_events: pd.DataFrame
) -> None:
    moved = leaks(no_events, 0.5, kind="boundary", other_cell_id="V2")
    zones = zones_of({"V1": (0.55, 0.45, 0.65), "V2": (0.05, -0.05, 0.15)})
    found = looked_for(zones, moved)
    assert list(found) == ["V2"]
    assert found["V2"].flow_l_s == pytest.approx(0.55)
    assert found["V2"].flow_l_s_low == pytest.approx(0.55 - 0.1 * 2**0.5)
    ended = true_excess(zones, moved.assign(state="ended"))
    assert ended.loc["V2", "flow_l_s"] == 0.05
