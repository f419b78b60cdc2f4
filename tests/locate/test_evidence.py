"""What is looked for in each zone."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pandas as pd
import pytest

from district.locate.evidence import sought

Make = Callable[..., Any]


def leaks(no_events: pd.DataFrame, *sizes: float, **changes: object) -> pd.DataFrame:
    row = {"place_kind": "zone", "place_id": "V1", "kind": "leak", "state": "open", **changes}
    rows = [
        {**row, "size_l_s": s, "size_l_s_low": s - 0.1, "size_l_s_high": s + 0.1} for s in sizes
    ]
    return pd.DataFrame(rows).reindex(columns=no_events.columns)


def test_the_excess_is_looked_for_where_it_is_above_nothing(
    zones_of: Make, no_events: pd.DataFrame
) -> None:
    zones = zones_of({"V1": (0.5, 0.1, 0.9), "V2": (0.5, -0.1, 1.1), "V3": (-0.3, -0.6, 0.1)})
    found = sought(zones, no_events)
    assert list(found["searched"]) == [True, False, False]
    assert list(found["flow_l_s"]) == [0.5, 0.5, 0.0]
    assert list(found["flow_l_s_low"]) == [0.1, 0.0, 0.0]


def test_one_open_leak_is_looked_for_by_its_size(zones_of: Make, no_events: pd.DataFrame) -> None:
    found = sought(zones_of({"V1": (2.0, 1.0, 3.0)}), leaks(no_events, 0.4))
    assert found.loc["V1", "flow_l_s"] == 0.4
    assert found.loc["V1", "flow_l_s_high"] == pytest.approx(0.5)


def test_several_leaks_leave_the_excess_if_it_is_clear(
    zones_of: Make, no_events: pd.DataFrame
) -> None:
    two = leaks(no_events, 0.4, 0.3)
    assert sought(zones_of({"V1": (2.0, 1.0, 3.0)}), two).loc["V1", "flow_l_s"] == 2.0
    unclear = sought(zones_of({"V1": (0.2, -1.0, 1.4)}), two).loc["V1"]
    assert unclear["flow_l_s"] == pytest.approx(0.7)
    assert unclear["flow_l_s_high"] == pytest.approx(0.7 + 0.1 * 2**0.5)
    assert unclear["searched"]


@pytest.mark.parametrize(
    "changes", [{"state": "ended"}, {"kind": "meter_or_boundary"}, {"place_kind": "building"}]
)
def test_other_events_are_not_looked_for(
    zones_of: Make, no_events: pd.DataFrame, changes: dict[str, object]
) -> None:
    found = sought(zones_of({"V1": (0.2, -1.0, 1.4)}), leaks(no_events, 0.4, **changes))
    assert not found.loc["V1", "searched"]


def test_a_leak_in_a_zone_without_a_row_is_still_looked_for(
    zones_of: Make, no_events: pd.DataFrame
) -> None:
    found = sought(zones_of({"V2": (0.2, -1.0, 1.4)}), leaks(no_events, 0.4))
    assert found.loc["V1", "searched"]
    assert found.loc["V1", "flow_l_s"] == 0.4


def test_what_a_meter_or_boundary_accounts_for_is_not_looked_for(
    zones_of: Make, no_events: pd.DataFrame
) -> None:
    moved = leaks(no_events, 0.5, kind="meter_or_boundary")
    zones = zones_of({"V1": (0.55, 0.45, 0.65), "V2": (0.5, 0.4, 0.6)})
    found = sought(zones, moved)
    assert list(found["searched"]) == [False, True]
    assert found.loc["V1", "flow_l_s"] == pytest.approx(0.05)
    assert found.loc["V1", "flow_l_s_high"] == pytest.approx(0.05 + 0.1 * 2**0.5)
    more = sought(zones_of({"V1": (1.55, 1.45, 1.65)}), moved)
    assert more.loc["V1", "searched"]
    assert more.loc["V1", "flow_l_s"] == pytest.approx(1.05)


def test_what_a_meter_or_boundary_hides_in_the_other_zone_is_looked_for(
    zones_of: Make, no_events: pd.DataFrame
) -> None:
    moved = leaks(no_events, 0.5, kind="meter_or_boundary", other_cell_id="V2")
    zones = zones_of({"V1": (0.55, 0.45, 0.65), "V2": (0.05, -0.05, 0.15)})
    found = sought(zones, moved)
    assert list(found["searched"]) == [False, True]
    assert found.loc["V2", "flow_l_s"] == pytest.approx(0.55)
    assert found.loc["V2", "flow_l_s_low"] == pytest.approx(0.55 - 0.1 * 2**0.5)
    assert sought(zones, moved.assign(state="ended")).loc["V2", "flow_l_s"] == 0.05
